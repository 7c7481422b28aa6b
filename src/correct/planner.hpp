// The plan in the making: verify every candidate, then combine; each state goes through gap → laminate → flow.
#pragma once
#include <algorithm>
#include <array>
#include <map>
#include <optional>
#include <vector>

#include "correct/remains.hpp"
#include "correct/state.hpp"

namespace gapfront::correct {

class Planner {
 public:
  Planner(const CorrectInput& in, const CorrectOptions& o, const Progress& progress)
      : in_(in), o_(o), progress_(progress), bench_(in), state_(bench_.now()) {
    plan_.effort = o.effort, plan_.letter = o.letter;
    plan_.prices = o.prices, plan_.shop_step = o.shop_step, plan_.references = tape_references(o);
  }
  CorrectionPlan run();

 private:
  void begin();
  Obstacle obstacle() const;
  void reinforcement_first();
  void resin_first();
  void open_vents();
  void layout(bool true_mold);
  void list_candidates();
  std::vector<int> add(std::vector<Correction>);
  void greedy(const std::vector<int>& which);
  bool take(int k, const Effect& seen, int& full);
  void draw_as_often(int draws);
  bool harms(int k, const Effect& before, const Effect& after);
  std::optional<Uncured> harm_of(bool on_gap, const Effect& before, const Effect& after);
  /// A true mold with the layout that is chosen.
  struct TrueMold {
    std::vector<int> layout;  ///< the chosen steps that make it
    Filling filling;
    std::vector<DrawnFill> drawn;
  };
  const TrueMold& true_mold(int draws);
  double mouth_before(const std::string& vent, std::size_t step) const;
  void merge_vents();
  void drop_twins();
  Correction tried_again(Correction, std::size_t step) const;
  void offer_again();
  struct Race;
  double gain(const Effect& before, const Effect& after, double hours) const;
  bool leads_surely(int k, Race&);
  bool worked_already(int k) const;
  bool promises(const Effect& before, const Effect& after) const;
  bool pays(const Correction&, const Effect& before, const Effect& after) const;
  /// Nothing is left to do: it is cured. Where prices decide, what is good may still be cheaper.
  bool done() const { return !o_.prices.decide() && cured(effect_, plan_.limits); }
  bool surely_done();
  void remember(std::vector<int> steps, const Effect&);
  void weigh_all();
  void finish();
  OutArea by_hands(const std::vector<double>& gap, std::size_t steps, const Correction* more = nullptr) const;
  void carry_out();
  void name_all();
  void say_what_is_left();
  void say_refused_shims();
  LossScale scale() const { return {.sheet_area = bench_.area(), .nominal_fill_time = fill_time_}; }
  /// Of the run, with `hours` of work.
  Saving saved(const Effect& before, const Effect& after, double hours) const {
    return saving(before, after, hours, o_.prices, plan_.limits, scale());
  }
  double hours(const std::vector<int>& steps) const {
    double sum = 0;
    for (const int k : steps) sum += plan_.candidates[k].effort;
    return sum;
  }
  /// A lead within what the glass scatters in a true mold is no reason to work.
  double value(const Effect& e) const {
    return loss(
        e, {.sheet_area = bench_.area(), .nominal_fill_time = e.max_lead_s > plan_.limits.lead_s ? fill_time_ : 0});
  }
  /// The present effect as a candidate's draws would tell it.
  Effect base() const { return with_draws(effect_, few_); }
  bool reinforcement_uncured() const {
    const auto left = uncured(effect_, plan_.limits);
    return std::any_of(left.begin(), left.end(),
                       [](Uncured u) { return u == Uncured::over_packed || u == Uncured::under_filled; });
  }

  const CorrectInput& in_;
  const CorrectOptions& o_;
  const Progress& progress_;
  Bench bench_;
  State state_;
  CorrectionPlan plan_;
  Effect effect_;  ///< of `state_`, with all draws
  double fill_time_ = 0;
  std::size_t few_ = 0;  ///< draws of a candidate
  Refused refused_;
  std::map<int, Uncured> harm_;        ///< why a candidate was refused
  std::vector<int> worked_;            ///< candidates that work on the gap, or lay glass on its regions
  std::vector<int> ports_;             ///< candidates that move a port, or split one
  std::vector<std::size_t> added_at_;  ///< per candidate: so many steps were chosen when its effect was computed
  std::vector<int> unsettled_;         ///< candidates whose fillings did not converge
  std::vector<DrawnFill> nominal_;
  std::optional<TrueMold> true_mold_;         ///< kept until another layout is chosen
  std::vector<int> dropped_;                  ///< candidates that another stands for
  std::vector<State> states_;                 ///< after each chosen step
  std::vector<std::array<double, 2>> hands_;  ///< per candidate, out of tolerance before and after by real hands, mm²
  /// What no plan for the gap can be made without: glass that suits the section, resin that fills a true mold.
  enum class Missing { nothing, glass, resin };
  Missing missing_ = Missing::nothing;
};

}  // namespace gapfront::correct
