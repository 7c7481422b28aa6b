// What people and programs read: report.html, result.json, corrections.csv, sheet.ply, sheet.vtu.
#pragma once
#include <filesystem>
#include <string>
#include "gapfront/inspection.hpp"

namespace gapfront {

/// The parts, as text (sheet.ply and sheet.vtu may be binary).
std::string report_html(const Inspection&);
std::string result_json(const Inspection&, bool with_times = true);
std::string corrections_csv(const Inspection&);
std::string sheet_ply(const Inspection&);
std::string sheet_vtu(const Inspection&);

/// Writes all five into `folder`, each atomically (temporary file, fsync, rename), none unless all could be
/// rendered. Throws Error{Fault::input} when the folder cannot be written.
void write_report(const Inspection&, const std::filesystem::path& folder);

}  // namespace gapfront
