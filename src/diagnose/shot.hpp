// A shot's log against fillings.
#pragma once
#include <vector>

#include "core/linear.hpp"
#include "gapfront/shot.hpp"

namespace gapfront::diagnosis {

/// What a filling says about a log: how it resists over the injected volume. Without shut-in air that hangs neither on
/// rate nor on viscosity, so one filling serves all of both.
struct Course {
  std::vector<double> volume, integral;  ///< mm³; ∫ (p_inlet − p_cavity)/(µ rate) dV up to there
  std::vector<double> slope;             ///< of that
  std::vector<double> vents;             ///< injected when resin comes to each, mm³; +infinity: never
  double full = 0;                       ///< mm³ at its end
  /// Mean over a stretch of (p_inlet − p_cavity)/(µ rate), 1/mm³; +infinity beyond the end.
  double resistance(double from, double to) const;
};

/// Stretches of about equal volume, with the means of the log.
struct Stretches {
  std::vector<double> edge;               ///< mm³ injected, one more than stretches
  std::vector<double> edge_time;          ///< s
  std::vector<double> pressure, rate;     ///< mean above atmosphere, Pa; mm³/s
  std::vector<double> over_before;        ///< ∫ pressure above atmosphere dt up to each edge, Pa s
  double volume = 0, start = 0, end = 0;  ///< whole log: mm³, s
  std::size_t size() const { return pressure.size(); }
};
Stretches stretches_of(const ShotLog&, const FlowOptions&);
/// Standard deviation of the readings of the volume about a smooth course, mm³.
double volume_noise(const std::vector<ShotSample>&);
/// Volume injected at a time of the log, and back; +infinity beyond its end.
double volume_at(const ShotLog&, double time);
double time_at(const ShotLog&, double volume);

/// A tool in one state, as fillings with the log's own rate run in it.
struct ShotCase {
  const Sheet& sheet;
  const std::vector<double>& gap;
  const LaminateOptions& laminate;
  FlowOptions flow;  ///< with the log's rate, and a limit that it does not meet
};
ShotCase case_of(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&,
                 const Stretches&);

/// One way in which a tool can differ, and how much of it the fillings were run with.
struct Family {
  ShotCause cause{};
  std::string subject;
  Vec3 at = Vec3::Zero();
  std::vector<double> amount;   ///< rising or falling; the first is "as the job has it"
  std::vector<Course> courses;  ///< one each; a single one: the amount acts without a filling
  double scale = 0;             ///< of the half-normal prior of the amount
  bool fixed = false;           ///< it is there or not, without an amount
  double prior = 1;             ///< against the other causes
};
/// All of them, run; `none` first. `permeability`: how that acts, for the joint fit; no cause by itself.
std::vector<Family> run_families(const ShotCase&, const FlowOptions& job, const Progress&, int& fillings,
                                 Family& permeability);

/// Amounts of what acts without a filling.
struct Effects {
  double resistance = 0;  ///< ln of the factor
  double leak = 0;        ///< share of what was injected up to the last stretch's end
  double vacuum = 0;      ///< Pa more in the cavity
};

/// The log as data with a covariance: mean pressure of each stretch, and volumes at vents.
class Evidence {
 public:
  Evidence(const ShotLog&, const Stretches&, const FlowOptions& job, const ShotOptions&);
  /// Residuals, whitened: their squares add up to chi-square.
  Eigen::VectorXd residuals(const std::vector<double>& pressure, const std::vector<double>& vents) const;
  /// Mean pressure of each stretch, above atmosphere.
  std::vector<double> pressures(const Course&, const Effects&) const;
  std::vector<double> vents(const Course&, const Effects&) const;
  double cavity_pressure() const { return job_.cavity_pressure; }
  int data() const { return static_cast<int>(log_.size() + seen_.size()); }
  double volume_lost(double upto, double leak) const;  ///< of what was injected, mm³
  /// Injected when so much is in the cavity.
  double injected_for(double inside, double leak) const;

 private:
  struct Seen {
    std::size_t vent;
    double volume;
  };
  const Stretches& log_;
  const FlowOptions& job_;
  const ShotOptions& o_;
  Eigen::MatrixXd whiten_;  // inverse of the Cholesky factor
  std::vector<Seen> seen_;
  bool stopped_ = false;  // the resin came to rest within the log
};

struct ShotContext;
/// What is known before: of the resistance, given what was measured of the viscosity.
struct ResistancePrior {
  double mean = 0, sigma = 0;  ///< of ln resistance
  double log_evidence = 0;     ///< of the measured viscosity
};
/// `thicker`: by which the resin differs, ln; `tighter`: the glass.
ResistancePrior resistance_prior(const ShotContext&, double thicker, double tighter);

/// Of a family: its evidence, its amount, and what it predicts at its best.
struct Judged {
  double log_evidence = 0;
  ShotEstimate amount;
  double chi2 = 0, resistance = 0;
  std::vector<double> pressure, vents;
};
struct ShotContext {
  const ShotLog& log;
  const Stretches& stretches;
  const FlowOptions& flow;
  const LaminateOptions& laminate;
  const ShotOptions& options;
  const Evidence& evidence;
  std::vector<double> earlier;  ///< ln of the resistance of earlier shots against the job's
};
Judged judge_family(const Family&, const ShotContext&);
/// Permeability, viscosity and leak together.
void fit_together(const Family& permeability, const ShotContext&, ShotFound&);

/// What the cause is, and what to check because of it.
void tell_cause(ShotCandidate&);
/// The headline, and the checks in the order in which they tell most.
void tell_shot(const ShotLog&, const FlowOptions& job, const ShotOptions&, ShotFound&);

}  // namespace gapfront::diagnosis
