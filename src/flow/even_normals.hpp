// Numbers for draws that are to cover what may happen more evenly than independent ones do.
#pragma once
#include <vector>

namespace gapfront::flow {

/// Point `number` of a Sobol sequence in `dimensions` (up to 1000), as fractions k·2⁻³² of 0 ≤ k < 2³². Any 2ᵐ points
/// from a multiple of 2ᵐ on lie one in each of 2ᵐ equal parts of every axis. Source: Sobol 1967; direction numbers of
/// Joe & Kuo 2008, by Boost.Random.
std::vector<unsigned> sobol_point(unsigned number, int dimensions);

/// Standard normal numbers from such a point, each axis scrambled by the seed (nested uniform scrambling, Owen 1995):
/// the same point of each seed is uniform by itself, so that a mean over draws errs to neither side.
std::vector<double> even_normals(unsigned seed, unsigned number, int dimensions);

}  // namespace gapfront::flow
