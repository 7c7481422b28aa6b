// What each stage refuses of its settings, and of its files, before there is anything to compute with. A stage asks its
// own of these first; validate() asks all of them. Each throws Error{Fault::input} with the first fault, and takes no
// time worth speaking of.
#pragma once
#include <array>
#include <cstdint>
#include <filesystem>

namespace gapfront {

struct AlignOptions;
struct SheetOptions;
struct GapOptions;
struct ToleranceOptions;
struct LaminateOptions;
struct Ply;
struct FlowOptions;
struct PaintedMesh;

/// Methods that contradict each other; a target without a name or place, given twice, or with a diameter or u that is
/// none; a stand-off without lands. That the nominal surfaces are there is asked by
/// align::register_halves() alone.
void check_options(const AlignOptions&);
/// Edges that no sheet can be built with.
void check_options(const SheetOptions&);
/// A nominal gap that is none, and bounds or uncertainties below zero.
void check_options(const GapOptions&);
/// A nominal thickness that is not positive, or a tolerance below zero, of the whole or of a zone.
void check_options(const ToleranceOptions&);
/// Glass that nothing can be computed with, in the whole or in a zone: see check_ply(); draping that is not positive.
void check_options(const LaminateOptions&);
/// A ply without weight, loft or law, or whose loft is thinner than its glass.
void check_ply(const Ply&);
/// No inlet, no vent, no viscosity, a pressure limit that is not above the cavity's pressure, a rate of nothing.
void check_options(const FlowOptions&);

/// A file that is not there, a folder, empty, or closed to us: the error that reading it would end in.
void check_input_file(const std::filesystem::path&);
/// The same, and one whose first bytes are no scan's.
void check_scan_file(const std::filesystem::path&);
/// A colour (red, green, blue) that no face of the mesh has; lists those that there are.
void check_paint(const PaintedMesh&, const std::array<std::uint8_t, 3>&);

}  // namespace gapfront
