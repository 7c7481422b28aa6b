// The motion of one scan, as a text file of its matrix.
#include <Eigen/SVD>
#include <array>
#include <cmath>

#include "gapfront/scan.hpp"
#include "scan/formats.hpp"
#include "scan/input.hpp"

namespace gapfront::reading {
namespace {

using Row = std::array<double, 4>;

constexpr const char* kRows = "needs three or four rows of four numbers: rotation and translation, then 0 0 0 1";

std::vector<Row> rows_of(Input& in) {
  std::vector<Row> rows;
  for (std::string_view line; in.line(line);) {
    const auto w = words(line);
    if (w.empty()) continue;
    if (w.size() != 4 || rows.size() == 4) in.fail_line(kRows);
    Row row{};
    for (std::size_t k = 0; k < 4; ++k)
      if (!parse_number(w[k], row[k]) || !std::isfinite(row[k])) in.fail_line(kRows);
    rows.push_back(row);
  }
  if (rows.size() < 3) in.fail_file(kRows);
  return rows;
}

}  // namespace
}  // namespace gapfront::reading

namespace gapfront::scan {

Rigid read_pose(const std::filesystem::path& file, double unit) {
  reading::Input in(file);
  const auto rows = reading::rows_of(in);
  if (rows.size() == 4 && rows[3] != reading::Row{0, 0, 0, 1})
    in.fail_file("the fourth row is not 0 0 0 1; write the matrix by rows, not by columns");
  Rigid out = Rigid::Identity();
  for (int i = 0; i < 3; ++i) {
    for (int k = 0; k < 3; ++k) out.linear()(i, k) = rows[i][k];
    out.translation()[i] = unit * rows[i][3];
  }
  const Eigen::Matrix3d r = out.linear();
  if (!((r * r.transpose() - Eigen::Matrix3d::Identity()).cwiseAbs().maxCoeff() < reading::kNoRotation) ||
      r.determinant() < 0)
    in.fail_file("the first three columns are no rotation; give a motion without scale or mirror");
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(r, Eigen::ComputeFullU | Eigen::ComputeFullV);
  out.linear() = svd.matrixU() * svd.matrixV().transpose();
  return out;
}

}  // namespace gapfront::scan
