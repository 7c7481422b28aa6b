// The words of classes and of kinds of correction, as they stand in tables.
#include "report/html.hpp"

namespace gapfront::report {

Message word_of(Conformity c, bool provisional) {
  switch (c) {
    case Conformity::conforming:
      return Message(provisional ? "setup.provisionally-conforming" : "page.conforming");
    case Conformity::undecided:
      return Message(provisional ? "setup.provisionally-undecided" : "page.undecided");
    case Conformity::nonconforming:
      return Message(provisional ? "setup.provisionally-nonconforming" : "page.nonconforming");
    case Conformity::not_judged:
      return Message("doubt.not-judged");
    case Conformity::not_measured:
      return Message(provisional ? "setup.provisionally-not-measured" : "page.not-measured");
  }
  return {};
}

Message word_of(const Mask& m) {
  return m.name.empty() ? Message("doubt.ball-without-name") : Message("list.plain", {arg::name(m.name)});
}

Message word_of(Kind k) {
  switch (k) {
    case Kind::shim:
      return Message("corrections.shim");
    case Kind::build_up:
      return Message("corrections.build-up");
    case Kind::relief:
      return Message("corrections.relief");
    case Kind::reinforcement_patch:
      return Message("corrections.glass-patch");
    case Kind::radius_packing:
      return Message("corrections.radius-packing");
    case Kind::vent_move:
      return Message("work.vent-move");
    case Kind::inlet_move:
      return Message("work.inlet-move");
    case Kind::vent_add:
      return Message("advice.vent-added");
    case Kind::vent_enlarge:
      return Message("advice.vent-enlarged");
    case Kind::overlap_cut:
      return Message("advice.overlap-cut");
    case Kind::filling_ply:
      return Message("advice.filling-ply");
    case Kind::other_stack:
      return Message("advice.other-stack");
    case Kind::inlet_add:
      return Message("optimiser.inlet-added");
    case Kind::vacuum_level:
      return Message("optimiser.vacuum-level");
    case Kind::lower_limit:
      return Message("optimiser.lower-limit");
    case Kind::pump_steps:
      return Message("optimiser.pump-steps");
    case Kind::resin_warmed:
      return Message("optimiser.resin-warmed");
    case Kind::vent_open:
      return Message("advice.vent-left-open");
  }
  return {};
}

}  // namespace gapfront::report
