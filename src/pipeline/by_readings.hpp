// Readings of the thickness in place of an upper scan, or over one.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// No upper half was scanned: readings tell the gap.
inline bool by_readings_alone(const Job& job) { return job.readings_use == ReadingsUse::alone; }

/// What stands for the upper half where none was scanned: the lower face, the nominal gap off. It says which side the
/// cavity is on; no gap is measured to it.
Scan upper_stand_in(const Scan& lower, const Job&);

/// The gap by readings alone, into `out.gap`.
void find_gap_by_readings(Measured& out);
/// Carries the map over to the readings, where the job says so.
void update_gap_by_readings(Measured& out);

/// Readings prove what they met and no more: "conforming" stays at nodes that a reading lies beside, and is said of no
/// whole; "nonconforming" is said of a whole where a reading by itself proves it.
void hold_verdict_to_readings(Measured& out);
/// A map that was carried over to readings is that of the clamped mold where they reach, and nowhere else within.
void hold_update_to_reach(Measured&);

}  // namespace gapfront::pipeline
