// Parts of a drafted job file.
#pragma once
#include <string>

#include "gapfront/survey.hpp"

namespace gapfront::pipeline::draft {

/// A number with so many decimals.
std::string number(double, int decimals);
/// Text as a job file holds it.
std::string quoted(const std::string&);
/// A place, mm, as a job file holds it.
std::string place(const Vec3&, int decimals = 1);

/// [flow], [closing] and [correct], with every key that can be given.
std::string flow_section(const Survey&);
/// Whether the lower scan is in a unit of inches, feet or thou, and so the job.
bool in_inches(const Survey&);

}  // namespace gapfront::pipeline::draft
