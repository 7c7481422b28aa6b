// What injection comes to: the one place that says it, for report and terminal.
#pragma once
#include "gapfront/inspection.hpp"
#include "gapfront/message.hpp"

namespace gapfront {

namespace pipeline {
/// Why the mold opens, and what would hold it shut: clauses, without a full stop. Empty where it stays shut.
Messages opening_words(const Predicted&);
/// Whether what is chosen changes that, so that what would hold the tool shut as it is says nothing of the tool as it
/// will be: settings of pump and resin do not, other work does, and so does a vent that stays open.
bool changes_opening(const CorrectionPlan&);
/// What the advised schedule does not come to: too late for the resin, too near to a limit, no schedule at all.
/// Clauses; empty where there is nothing to say.
Messages schedule_words(const Predicted&);
/// What hose, weight of the resin, ageing and the way through the thickness do to the fill: sentences; empty where the
/// job asks for none of them.
Messages supply_words(const Predicted&);
}  // namespace pipeline

}  // namespace gapfront
