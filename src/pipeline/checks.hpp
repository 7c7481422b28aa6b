// What is refused once something of it has been measured: settings that do not suit the scans, halves that are none.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// An edge far below the scan's spacing, or as large as the face, is a slip of the unit.
void check_edge(const Surface& lower, const SheetOptions&, const std::string& file);
/// A corner of the seal line farther beside the lower scan than half of the scan's own size is a slip of the job: a
/// digit, a sign or another frame. Without this, hours may go into the sheet out there.
void check_seal(const Surface& lower, const std::vector<Vec3>& seal, const std::string& file);
/// What leaves nothing to draw, or no measurement to speak of where no doubt explains it.
void check_faces(const Measured&);

/// Ports must lie on the sheet. A port narrower than the mesh may miss every node; it is widened to the nearest
/// one within an edge, and that is said.
void settle_ports(const Sheet&, const SheetOptions&, const std::string& file, FlowOptions&, Messages& warnings);
/// The same without a sheet: it will lie inside the seal line, so that a port farther than an edge outside touches
/// none.
void check_ports(const std::vector<Vec3>& seal, const SheetOptions&, const std::string& file, const FlowOptions&);

}  // namespace gapfront::pipeline
