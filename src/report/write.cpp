// The files of a report's folder.
#include <algorithm>
#include <utility>
#include <vector>

#include "gapfront/report.hpp"

namespace gapfront::report {

FileSet report_files(const Inspection& r) {
  const std::string json = result_json(r);
  const Inspection again = read_result(json);
  FileSet files = {{"result.json", json},       {"corrections.csv", corrections_csv(r)},
                   {"sheet.ply", sheet_ply(r)}, {"sheet.pcd", sheet_pcd(r)},
                   {"sheet.vtu", sheet_vtu(r)}, {"report.html", report_html(again)}};
  for (auto& file : work_files(again)) files.push_back(std::move(file));
  return files;
}

void write_report(const FileSet& files, const std::filesystem::path& folder) {
  std::vector<std::string> gone;
  std::error_code fault;
  for (const auto& entry : std::filesystem::directory_iterator(folder, fault)) {
    const std::string name = entry.path().filename().string();
    const bool ours = name == "work-order.html" || name == "work-order.pdf" || name == "templates.pdf" ||
                      name == "depth-stops.csv" ||
                      (name.starts_with("template-C") && (name.ends_with(".svg") || name.ends_with(".dxf")));
    if (ours && std::none_of(files.begin(), files.end(), [&](const auto& f) { return f.first == name; }))
      gone.push_back(name);
  }
  write_set(folder, files, gone);
}

}  // namespace gapfront::report
