// One reader per section of the job file; each fills its part of the Job and refuses unknown keys.
#pragma once
#include "gapfront/job.hpp"
#include "job/table.hpp"

namespace gapfront::job {

/// polygon, box, path with radius, or `at` (a path of one point) with radius. Nothing: an error.
Region read_region(Table&, double default_radius = 5);
/// path or at, with radius; both empty when neither is given.
void read_path(Table&, std::vector<Vec3>& path, double& radius);

void read_align(Table, Job&);
void read_cavity(Table, Job&);
void read_laminate(Table, Job&);
void read_closing(Table, Job&);
/// After laminate and closing: clamping that is not given follows from the cavity pressure and what presses besides.
void read_flow(Table, Job&, bool clamping_given);
void read_correct(Table, Job&);
void read_history(Table, Job&, const std::filesystem::path& folder);

/// "1.2 bar", or "50 % of atmosphere", Pa.
std::optional<double> read_pressure_share(Table&, const std::string& key);

}  // namespace gapfront::job
