// The files of a report's folder.
#include <algorithm>
#include <utility>
#include <vector>

#include "gapfront/report.hpp"
#include "report/made_apart.hpp"

namespace gapfront::report {

FileSet report_files(const Inspection& r) {
  const std::string json = result_json(r);
  const Inspection again = read_result(json);
  FileSet work;
  auto made = made_apart({[&] { return report_html(again); }, [&] { return corrections_csv(r); },
                          [&] { return sheet_ply(r); }, [&] { return sheet_pcd(r); }, [&] { return sheet_vtu(r); },
                          [&] { return work = work_files(again), std::string(); }});
  FileSet files = {{"result.json", json},  {"corrections.csv", made[1]}, {"sheet.ply", made[2]},
                   {"sheet.pcd", made[3]}, {"sheet.vtu", made[4]},       {"report.html", made[0]}};
  for (auto& file : work) files.push_back(std::move(file));
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
