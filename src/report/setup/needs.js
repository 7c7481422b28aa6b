// What is still missing, and for which answer. The rules are the schema's; the program checks more, and has the last word.
const answers = () => [
  { id: "gap", title: say("pointing.answer-gap"), sections: ["job", "report", "lower", "upper", "clean", "align", "history"] },
  { id: "verdict", title: say("pointing.answer-verdict"), sections: ["cavity"] },
  { id: "front", title: say("pointing.answer-front"), sections: ["laminate", "flow", "closing"] },
  { id: "corrections", title: say("pointing.answer-corrections"), sections: ["correct"] }
];
function answersOf(app) {
  let missing = [], guesses = [];
  return answers().map(answer => {
    const mine = app.faults.filter(f => answer.sections.includes(f.path[0])).map(f => ({ path: f.path, text: f.text }));
    if (answer.id === "gap" && !app.closed.lower) mine.push({ path: ["align"], text: app.closed.why || say("pointing.not-closed") });
    missing = [...missing, ...mine];
    const ownGuesses = app.job.open().filter(k => answer.sections.includes(k.split(".")[0])).map(k => ({ path: k.split("."), text: say("pointing.guess") }));
    guesses = [...guesses, ...ownGuesses];
    return { ...answer, missing, guesses, own: mine, ownGuesses };
  });
}
// An answer counts what it needs of those before it as well; `split` says how many of these are listed with it.
function answerWord(a, split) {
  const count = (all, own) => split && own < all ? say("pointing.here-and-above", all, own, all - own) : String(all);
  if (a.missing.length) return say("pointing.missing", count(a.missing.length, a.own.length));
  if (a.guesses.length) return say("pointing.guesses", count(a.guesses.length, a.ownGuesses.length));
  return say("pointing.ready");
}
const answerStyle = a => a.missing.length ? "bad" : a.guesses.length ? "maybe" : "ok";

function answersBar(app) {
  return el("ul", { class: "answers", "aria-label": say("pointing.answers") }, answersOf(app).map(a =>
    el("li", { class: answerStyle(a) }, button([el("b", {}, a.title), el("span", {}, answerWord(a))], () => {
      const next = a.missing[0] || a.guesses[0];
      if (next) app.goTo(next.path); else app.goStep("save");
    }, { "data-path": "answer." + a.id }))));
}
