// Glass that was weighed and pressed at a bench: what half an hour's measurements make of a reinforcement's numbers.
#pragma once
#include <string>
#include <vector>
#include "gapfront/laminate.hpp"

namespace gapfront {

/// A piece of the kit that was measured and weighed.
struct WeighedPiece {
  double area = 0, weight = 0;  ///< mm², g
};
/// So many plies under a plate with a known load.
struct PressedStack {
  double pressure = 0;   ///< Pa; 0: nothing presses but a light plate
  double thickness = 0;  ///< mm
  double plies = 1;
};
/// A strip of so many plies, filled from one end at a constant pressure between plates.
struct FilledStrip {
  double length = 0, time = 0;  ///< mm, s: the front went so far in that time
  double pressure = 0;          ///< Pa, inlet less vent
  double viscosity = 0;         ///< Pa·s
  double gap = 0;               ///< mm, between the plates
  double plies = 1;
};
/// What was measured of one glass.
struct BenchGlass {
  std::string glass;  ///< name of the reinforcement
  std::vector<WeighedPiece> pieces;
  std::vector<PressedStack> presses;
  std::vector<FilledStrip> strips;
};
/// How well a library's numbers are known before, and how well a bench measures; standard uncertainties.
struct BenchOptions {
  /// Relative, of the built-in list as it says itself (± 5 %, ± 25 %, ± 15 %, a factor of 3), taken as expanded.
  double areal_weight = 0.025, loft = 0.125, vf = 0.075, permeability = 0.55;
  double exponent = 0.03;  ///< of the compaction law's b (own choice: the list's mats and fabrics differ by 0.14)
  double piece = 0.04;     ///< scatter of pieces before any is weighed, relative; worth four pieces (own choice)
  /// Of a reading between plates, mm, and of a strip's gap half of that (own choice: a caliper).
  double thickness = 0.1;
  double press = 0.03;  ///< of one stack against the next, relative (own choice)
  /// Of one strip, relative: time, pressure and viscosity together (own choice: 5 % in the viscosity, 3 % in the
  /// others).
  double strip = 0.07;
};

/// One number before and after. Relative standard uncertainties.
struct BenchNumber {
  double before = 0, u_before = 0, after = 0, u_after = 0;
};
/// A reinforcement after the bench.
struct BenchResult {
  Reinforcement glass;       ///< its numbers replaced, and `source` says by what
  BenchNumber areal_weight;  ///< g/mm²
  BenchNumber loft;          ///< mm
  BenchNumber vf;            ///< fibre fraction under half an atmosphere
  BenchNumber permeability;  ///< at that fraction, mm²
  double piece_scatter = 0;  ///< of single pieces, relative standard deviation
  double p_value = 1;        ///< that library and bench differ so much by chance alone
};

namespace laminate {
/// Bayesian update: the library's numbers are a Gaussian prior in their logarithms; weights, thicknesses and fill times
/// are data. Gauss–Newton to the mode, covariance by Laplace; checked against Monte Carlo in tests/external. Throws
/// Error{Fault::input} for values that no bench gives.
BenchResult update(const Reinforcement&, const BenchGlass&, const BenchOptions& = {});
}  // namespace laminate

}  // namespace gapfront
