// One reader per section of the job file; each fills its part of the Job and refuses unknown keys.
#pragma once
#include "gapfront/job.hpp"
#include "job/table.hpp"

namespace gapfront::job {

/// A file in TOML, as it stands and as it was read.
struct JobText {
  std::string text;
  toml::table parsed;
};
/// Throws Error{Fault::input} for a file that is none.
JobText read_text(const std::filesystem::path&);
/// The job of that table. `file`: whose folder its paths begin at; `said_of`: the file that errors name.
Job job_of(const toml::table&, const std::filesystem::path& file, std::string text, const std::string& said_of);

/// polygon, box, path with radius, or `at` (a path of one point) with radius. Nothing: an error.
Region read_region(Table&, double default_radius = 5);
/// path or at, with radius; both empty when neither is given.
void read_path(Table&, std::vector<Vec3>& path, double& radius);

/// Fills job.unconfirmed from the list in [job]; an entry that names no key of the file is refused with the nearest.
void read_unconfirmed(const toml::table& file, const std::vector<std::string>& listed, const Table& job_section, Job&);

void read_align(Table, Job&);
void read_cavity(Table, Job&);
/// [instrument]; after [cavity]. `u_given`: that has a u_instrument of its own.
void read_instrument(Table, bool u_given, Job&);
/// [cavity.readings]; after [upper] and [[cavity.spot]].
void read_readings(Table, Job&);
/// Millimetres per unit of a file, key unit; without one the numbers in it mean nothing.
double read_file_unit(Table&);
void read_laminate(Table, Job&);
void read_closing(Table, Job&);
/// After laminate and closing: clamping that is not given follows from the cavity pressure and what presses besides.
void read_flow(Table, Job&, bool clamping_given);
/// Of [flow], after viscosity and gel time: hose, weight, ageing, spread, the way through the thickness. `temperature`:
/// the resin's, where it is given.
void read_supply(Table&, FlowOptions&, std::optional<double> temperature);
/// Sections of a runner at places along it.
std::vector<RunnerSection> read_sections(Table&);
void read_correct(Table, Job&);
/// [prices].
void read_prices(Table, Prices&);
void read_history(Table, Job&, const std::filesystem::path& folder);

/// A pressure that presses, "1.2 bar" or "50 % of atmosphere", Pa.
std::optional<double> read_pressure_fraction(Table&, const std::string& key);
/// Number and unit of a pressure that says nothing more, for the error; a wrong number or unit is refused at once.
std::string bare_pressure(const Table&, const std::string& key, const std::string& text);
/// A vacuum as Pa below atmosphere, from "50 % of atmosphere", "0.5 bar below atmosphere" or "0.5 bar absolute". A bare
/// pressure is refused: it may be meant either way.
std::optional<double> read_vacuum(Table&, const std::string& key);

}  // namespace gapfront::job
