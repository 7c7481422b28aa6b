// The files of a report's folder.
#include <algorithm>
#include <utility>
#include <vector>

#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "report/made_apart.hpp"

namespace gapfront::report {
namespace {

/// Made of the chosen corrections: there are more or fewer of them from run to run.
bool is_work(const std::string& name) {
  return name == "work-order.html" || name == "work-order.pdf" || name == "templates.pdf" ||
         name == "depth-stops.csv" ||
         (name.starts_with("template-C") && (name.ends_with(".svg") || name.ends_with(".dxf")));
}

std::vector<std::string> names_in(const std::filesystem::path& folder) {
  std::vector<std::string> out;
  std::error_code fault;
  for (const auto& entry : std::filesystem::directory_iterator(folder, fault))
    out.push_back(entry.path().filename().string());
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace

std::vector<std::string> report_names(const std::filesystem::path& folder) {
  std::vector<std::string> out;
  for (const std::string& name : names_in(folder))
    if (is_work(name) || name == "result.json" || name == "report.html" || name == "corrections.csv" ||
        name == "sheet.ply" || name == "sheet.pcd" || name == "sheet.vtu")
      out.push_back(name);
  return out;
}

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

void write_report(const FileSet& files, const std::filesystem::path& folder, std::vector<std::string> gone) {
  for (const std::string& name : names_in(folder))
    if (is_work(name) && std::none_of(files.begin(), files.end(), [&](const auto& f) { return f.first == name; }))
      gone.push_back(name);
  write_set(folder, files, gone);
}

}  // namespace gapfront::report
