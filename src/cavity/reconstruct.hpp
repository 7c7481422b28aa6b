// From a scan to a first, fine triangle mesh of the face: oriented samples, a signed distance, its zero set.
#pragma once
#include <vector>
#include "cavity/sheet_seal.hpp"
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// Thinned scan with oriented normals and the edge length wanted at each sample.
struct Samples {
  Surface tree;               ///< the samples, searchable
  std::vector<Vec3> normals;  ///< unit, into the cavity
  std::vector<double> size;   ///< edge length wanted, mm, smoothly graded
  std::vector<double> bend;   ///< greatest principal curvature, 1/mm
  double cell = 0;            ///< edge of the reconstruction grid, mm
  double pitch = 0;           ///< distance between samples, mm
};

/// Thins the scan near the seal line to about one sample per grid cell, with normals towards the upper half.
/// Throws Error{measurement} when too few points lie inside the seal line.
Samples sample_face(const Surface& lower, const Surface& upper, const SheetOptions&, const SealLine&);

/// Zero set of the averaged tangent-plane distance (Hoppe et al. 1992, with weights), by marching cubes.
/// It reaches a little beyond the scanned area; clip it with `coverage_field`.
Mesh zero_set(const Samples&);

/// Negative where the scan surrounds a mesh vertex, zero on the edge of the scanned area, positive beyond.
std::vector<double> coverage_field(const Samples&, const Mesh&, const std::vector<Vec3>& normals);

/// Moves x along the local normal to the least-squares quadric of the samples near it whose normals agree
/// with n, and sets n to the surface normal there; false (nothing moved) without enough support.
bool settle(const Samples&, Vec3& x, Vec3& n);
/// The same on the points of the scan itself, with a radius chosen from the curvature `bend`.
bool settle_on_scan(const Surface&, Vec3& x, Vec3& n, double bend);

}  // namespace gapfront::cavity
