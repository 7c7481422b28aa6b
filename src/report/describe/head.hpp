// What the files of a re-check and of a diagnosis begin with, and their sheet.
#pragma once
#include <algorithm>

#include "gapfront/job.hpp"
#include "report/describe/message.hpp"

namespace gapfront::report {

inline const std::vector<std::string> unit_words{"mm", "inch"};

/// The name of a file without its folder.
void describe_file(auto& v, const char* key, auto& path) {
  v.via(
      key, [&] { return path.filename().string(); }, [&](const auto& name) { path = name; });
}

void describe(auto& v, Is<Vent> auto& vent) {
  v.about("vent");
  v("name", vent.name);
  v("path_mm", vent.path);
  v("radius_mm", vent.radius, "Half the width of its mouth.");
}

/// Facts of the job for the head of a page and for its maps.
void describe_head(auto& v, Is<Job> auto& job) {
  v.about("job", "What the job file asked for, as far as the page shows it.");
  v("name", job.name);
  v("tool", job.tool);
  v("date", job.date, "As written in the job; empty when it is not given.");
  v("cycles", job.cycles, "Parts made so far.");
  v("note", job.note);
  v("data_is_invented", job.invented, "Demo data: no real tool, no real part.");
  v("report_language", one_of(job.language, Json(languages)));
  v("report_units", word(job.units, unit_words));
  describe_file(v, "file", job.file);
  v("vents", job.flow.vents);
}

void describe_mesh(auto& v, Is<Mesh> auto& mesh) {
  v("nodes_mm", mesh.points);
  v.check(
      "nodes_mm",
      [&] { return std::all_of(mesh.points.begin(), mesh.points.end(), [](const Vec3& p) { return p.allFinite(); }); },
      "holds a place that is none");
  v("triangles", corners(mesh.triangles));
}

}  // namespace gapfront::report
