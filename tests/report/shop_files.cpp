// What goes to the shop's own machines: depth stops and outlines.
#include "report/shop_files.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "gapfront/report.hpp"
#include "work_case.hpp"

using namespace gapfront;

TEST_CASE("depth-stops.csv says where the face is now, which way it looks, and where it is after the work") {
  // A flat lower face at z = 0 that looks up: 0.6 mm and 0.1 mm come on.
  CHECK(
      report::depth_stops_csv(with_template()) ==
      "correction,kind,face,stop,x_mm,y_mm,z_mm,i,j,k,after_x_mm,after_y_mm,after_z_mm,change_mm,change_in\r\n"
      "\"C1\",\"build-up\",\"lower\",1,150.000,125.000,0.000,0.0000,0.0000,1.0000,150.000,125.000,0.600,0.600,0."
      "0236\r\n"
      "\"C1\",\"build-up\",\"lower\",2,20.000,20.000,0.000,0.0000,0.0000,1.0000,20.000,20.000,0.100,0.100,0.0039\r\n");
}

TEST_CASE("A relief of the upper face is negative, and moves the face up, away from the cavity") {
  Inspection r = with_template();
  Correction& c = r.plan.candidates[0];
  c.kind = Kind::relief, c.face = "upper", c.stops = {{Vec3(150, 125, 3), 0.2, 1}};
  const std::string csv = report::depth_stops_csv(r);
  CHECK(csv.find("1,150.000,125.000,3.000,-0.0000,-0.0000,-1.0000,150.000,125.000,3.200,-0.200,-0.0079\r\n") !=
        std::string::npos);
}

TEST_CASE("Without depth stops there is no file of them, and none of an earlier run is left") {
  namespace fs = std::filesystem;
  Inspection r = with_template();
  const auto named = [](const FileSet& files, const std::string& name) {
    return std::count_if(files.begin(), files.end(), [&](const auto& f) { return f.first == name; });
  };
  CHECK(named(report::work_files(r), "depth-stops.csv") == 1);
  CHECK(named(report::work_files(r), "template-C1.dxf") == 1);
  const fs::path folder = fs::temp_directory_path() / "gapfront-shop-files";
  fs::remove_all(folder);
  report::write_report(report::report_files(r), folder);
  CHECK(fs::exists(folder / "template-C1.dxf"));
  r.plan.candidates[0].stops.clear(), r.plan.candidates[0].templates.clear();
  CHECK(report::depth_stops_csv(r).empty());
  report::write_report(report::report_files(r), folder);
  CHECK_FALSE(fs::exists(folder / "depth-stops.csv"));
  CHECK_FALSE(fs::exists(folder / "template-C1.dxf"));
  fs::remove_all(folder);
}

TEST_CASE("A name in a DXF file breaks no line of it") {
  Inspection r = with_template();
  r.job.name = "Tool\r\n  0\r\nEOF\r\n";
  const std::string dxf = report::template_dxfs(r)[0].second;
  CHECK(dxf.find("\r\nEOF\r\n") == dxf.size() - 7);
}

TEST_CASE("A DXF file has signs and accents in letters that every reader knows") {
  Inspection r = with_template();
  r.job.name = "Größe −x, étanchéité, vedação 漢";
  const std::string dxf = report::template_dxfs(r)[0].second;
  CHECK_THAT(dxf, Catch::Contains("Groesse -x, etancheite, vedacao ?"));
  CHECK(std::all_of(dxf.begin(), dxf.end(), [](char c) { return static_cast<unsigned char>(c) < 127; }));
}
