// Fields and meshes as bytes: columns of little-endian doubles behind a short head.
#pragma once
#include <string>
#include <string_view>

#include "gapfront/history.hpp"

namespace gapfront::history {

std::string pack_mesh(const Mesh&);
Mesh unpack_mesh(std::string_view);
/// Gap map and arrival.
std::string pack_fields(const Record&);
void unpack_fields(std::string_view, Record&);
/// The nodes' fit areas, in a column of their own: files had none before layout 3. Empty bytes leave them at 0.
std::string pack_fit_areas(const Record&);
void unpack_fit_areas(std::string_view, Record&);

}  // namespace gapfront::history
