// Isotropic remeshing with a sizing field, after Botsch & Kobbelt, "A remeshing approach to multiresolution
// modeling" (2004): split, collapse, flip, smooth in the tangent plane, project.
#pragma once
#include <vector>
#include "cavity/reconstruct.hpp"
#include "cavity/sheet_seal.hpp"
#include "gapfront/progress.hpp"

namespace gapfront::cavity {

/// What a vertex may do: move freely on the face, along the seal line, along the edge of the scan, or not at all.
enum Mark : char { on_face = 0, on_seal = 1, on_edge = 2, fixed = 3 };

/// Remeshes in place to the samples' sizing field; vertices end on the least-squares surface of the samples,
/// boundary vertices on the seal line or the edge of the scan.
void remesh(Mesh&, std::vector<char>& mark, const Samples&, const SealLine&, const Progress& = {});

/// Moves a point to where the face meets the prism wall of the seal line.
void settle_on_seal(const Samples&, const SealLine&, Vec3& x, Vec3& n);

}  // namespace gapfront::cavity
