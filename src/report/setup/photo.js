// A photo of the tool, kept beside the job. It is drawn anew, at most 1600 pixels wide: small enough to be sent with a
// report, and without the place and time that a camera writes into its files.
async function takePhoto(app, file) {
  if (!file) return;
  let image;
  try { image = await createImageBitmap(file); } catch (e) { app.photoFault = say("pointing.photo-wrong", file.name); return app.render(); }
  const by = Math.min(1, 1600 / Math.max(image.width, image.height)), sheet = el("canvas", { width: Math.max(1, Math.round(by * image.width)), height: Math.max(1, Math.round(by * image.height)) }), pen = sheet.getContext("2d");
  pen.fillStyle = "#fff";  // under what is transparent
  pen.fillRect(0, 0, sheet.width, sheet.height);
  pen.drawImage(image, 0, 0, sheet.width, sheet.height);
  app.photoFault = null;
  app.photo = { uri: sheet.toDataURL("image/jpeg", 0.85), file: app.job.file.replace(/\.toml$/i, "") + ".photo.jpg", fresh: true };
  app.job.set(["job", "photo"], app.photo.file);
}
function savePhoto(app) {
  if (!app.photo || !app.photo.fresh || app.job.get(["job", "photo"]) !== app.photo.file) return;
  const bytes = Uint8Array.from(atob(app.photo.uri.split(",")[1]), c => c.charCodeAt(0));
  app.download(new Blob([bytes], { type: "image/jpeg" }), app.photo.file);
  app.photo.fresh = false;
}
function photoBox(app) {
  const named = app.job.get(["job", "photo"]), shown = named && app.photo && app.photo.file === named;
  const picker = el("input", { type: "file", accept: "image/*", hidden: true, "data-path": "photo.file", onchange: e => takePhoto(app, e.target.files[0]) });
  return el("section", { class: "list", "data-list": "job.photo" }, el("h3", {}, say("page.photo")),
    shown && el("img", { class: "photo", alt: say("page.photo"), src: app.photo.uri }),
    named && !shown && el("p", { class: "help" }, say("pointing.photo-other")),
    app.photoFault && el("p", { class: "fault", role: "alert" }, app.photoFault),
    el("p", { class: "row" }, picker, button(named ? say("pointing.photo-change") : say("pointing.photo-add"), () => picker.click(), { "data-path": "photo.add" }),
      named && button(say("try.remove"), () => app.job.set(["job", "photo"], undefined), { class: "quiet", "data-path": "photo.remove" })),
    el("p", { class: "help" }, say("pointing.photo-help"), shown && app.photo.fresh ? [" ", say("pointing.photo-where", named)] : ""),
    named && field(app, ["job", "photo"], { help: false }));
}
