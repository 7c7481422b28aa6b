// What finds and lays out the work on a face: tapes, depth stops, contours, templates.
#pragma once
#include <string>
#include <vector>
#include "gapfront/geometry.hpp"
#include "gapfront/message.hpp"

namespace gapfront {

/// How a tape lies: straight through free air; pressed to the face along its whole length; along the edge of the
/// moulding face; pressed to the face and squarely in from that edge.
enum class Way { straight, over_surface, along_edge, from_edge };
const char* to_string(Way);

/// Length from a named place, or from an edge of the moulding face (squarely), to the middle of the work.
struct TapeLine {
  Message from;            ///< what the tape is held to
  double distance = 0;     ///< mm; from the near side of a ball
  Vec3 at = Vec3::Zero();  ///< of that place, or where the tape leaves the edge
  Way way = Way::straight;
  std::vector<Vec3> line = {};  ///< how it runs, to the middle of the work
};
/// How much to add or take at a place; tool coordinates, mm.
struct DepthStop {
  Vec3 at;
  double depth;
  int number = 0;  ///< in the table of the work order, from 1
};
/// A line of equal thickness to add or take, mm; a loop repeats its first point.
struct ThicknessLine {
  double depth;
  std::vector<Vec3> line;
};
/// A place on the edge along which a template was split: the other part has a mark of the same name there.
struct JoinMark {
  std::string name;
  Eigen::Vector2d at;  ///< on the paper, mm
};
/// A direction on the paper, from the mark towards what a tape was held to.
struct PaperRay {
  Message to;
  Eigen::Vector2d towards;  ///< unit
};
/// One sheet of a template: the outline laid flat, mm, seen from the cavity; x of the paper runs along tool axis
/// `along` in the middle.
struct Template {
  int part = 0;                          ///< of a template that was split, from 1; 0: it is whole
  double stretch = 0;                    ///< greatest change of a length by laying it flat, 0.01 is 1 %
  char along = 'x';                      ///< tool axis that the arrow on the paper shows
  Vec3 origin = Vec3::Zero();            ///< place of the mark at (0, 0), on the face
  std::vector<PaperRay> rays;            ///< where the mark is the middle of the work, which the tapes find
  std::vector<Eigen::Vector2d> outline;  ///< closed
  std::vector<ThicknessLine> contours;   ///< flat, z = 0
  std::vector<DepthStop> stops;          ///< flat, z = 0
  std::vector<JoinMark> joins;           ///< where it meets other parts
};

}  // namespace gapfront
