// The job file: everything one inspection needs, with units, in TOML.
#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/align.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/conformity.hpp"
#include "gapfront/correct.hpp"
#include "gapfront/ensemble.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/instrument.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/languages.hpp"
#include "gapfront/residual_air.hpp"
#include "gapfront/scan.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// A further scan of a half, see PatchScan.
struct PatchInput {
  std::filesystem::path file;
  std::filesystem::path pose;  ///< text with the matrix that carries it into the first scan's frame; empty: none
  double u = 0;                ///< of that pose, mm; 0: the overlap refines it
};

/// The scan of one half, and how to read it.
struct HalfInput {
  std::filesystem::path file;
  std::vector<PatchInput> more;  ///< further scans of this half, joined to the first
  ReadOptions read;
};

/// A file beside the job in the tool frame.
struct FileInput {
  std::filesystem::path file;
  double unit = 1;  ///< mm per unit of the file
};

/// An entry of the job that was guessed and that nobody has confirmed, as it stands there.
struct Unconfirmed {
  std::string key;    ///< "cavity.nominal"
  std::string value;  ///< "3.0 mm"; empty for a section or a list
};

/// Where inspections of the tool are kept, and what they are measured with.
struct HistoryOptions {
  std::filesystem::path file;  ///< default: TOOL.history beside the job
  std::string instrument;      ///< names the scanner: its systematic error drops out of a change only if it is the same
  double limit = 0;            ///< growth of the gap since the baseline that ends the use, mm; 0: the tolerance limits
};

/// What readings of the thickness are for: to be compared with the map, to carry it over to them, or to be the map.
enum class ReadingsUse : char { compare, update, alone };

/// All that one inspection needs, as the job file says it.
struct Job {
  std::filesystem::path file;  ///< the job file itself
  std::string name, tool, date, note;
  std::filesystem::path photo;           ///< of the tool, JPEG or PNG; empty: none
  double cycles = 0;                     ///< parts made so far, for history
  bool invented = false;                 ///< demo data: the report says so
  std::vector<Unconfirmed> unconfirmed;  ///< in the job's order
  UnitSystem units = UnitSystem::mm;
  std::string language = "en";  ///< one of `languages`
  HalfInput lower, upper;
  InstrumentPair instrument;  ///< of the scanner of each half
  CleanOptions clean;
  AlignOptions align;                                  ///< its nominal surfaces are read by measure()
  std::filesystem::path nominal_lower, nominal_upper;  ///< files of the nominal surfaces, mm, for method "nominal"
  SheetOptions sheet;
  std::optional<FileInput> sheet_mesh;                    ///< the sheet is made on this mesh, not on the scan
  std::optional<FileInput> thickness;                     ///< nominal thickness at places
  std::optional<FileInput> surface_lower, surface_upper;  ///< both: nominal thickness is the gap between them
  std::optional<FileInput> painted;                       ///< mesh whose colours mark zones
  GapOptions gap;
  std::vector<SpotReading> spots;
  std::filesystem::path readings_file;  ///< whose readings are among `spots`; empty: none, or `upper.file`
  bool remove_spot_shift = false;       ///< take a significant common shift or tilt of the readings out of the map
  ReadingsUse readings_use = ReadingsUse::compare;  ///< of `spots`; alone: `upper.file` is their list, and no scan
  ToleranceOptions tolerance;
  LaminateOptions laminate;
  FlowOptions flow;
  AirOptions air;
  EnsembleOptions ensemble;
  CorrectOptions correct;
  HistoryOptions history;
  std::filesystem::path output;  ///< folder for the report; default reports/STEM, of the job file
  std::string text;              ///< the file as read, for provenance
};

namespace job {
/// Unknown keys, wrong types, bare numbers, missing units: Error{Fault::input} naming file, line, key, remedy,
/// with the nearest known key suggested. Paths are relative to the job file.
Job read_job(const std::filesystem::path&);

/// A picture that a page may hold, "data:image/jpeg;base64,…" or "…png…", of a JPEG or PNG file up to 2 MB and 40
/// megapixels; known by its content. What a camera wrote into it besides the picture (place, time, names) is left out,
/// but for how it was held. Error{Fault::input} naming file and remedy for any other.
std::string read_photo(const std::filesystem::path&);
/// Whether a text is what read_photo() gives: no link, nothing that runs.
bool is_photo(const std::string& data_uri);

/// Whether the verdict's own measure is a guess still: nominal thickness or tolerance.
bool provisional(const Job&);
}  // namespace job

}  // namespace gapfront
