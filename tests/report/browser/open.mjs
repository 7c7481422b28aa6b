// How large a report is and how soon it is drawn: node open.mjs REPORT CHROMIUM (tools/bench runs it). The median of five
// openings, in headless Chromium without a graphics card.
import { statSync } from "node:fs";
import { chromium } from "playwright-core";

const [report, browser] = process.argv.slice(2);
const chrome = await chromium.launch({ executablePath: browser, args: ["--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-background-networking"] });
const times = [];
for (let k = 0; k < 5; k++) {
  const page = await chrome.newPage({ viewport: { width: 1200, height: 900 } });
  page.setDefaultTimeout(120000);
  await page.goto("file://" + report);
  times.push(await page.waitForFunction(() => performance.getEntriesByName("drawn")[0]?.startTime).then(h => h.jsonValue()));
  await page.close();
}
times.sort((a, b) => a - b);
console.log(`report.html: ${(statSync(report).size / 1e6).toFixed(2)} MB, drawn after ${(times[2] / 1000).toFixed(2)} s (${times.map(t => (t / 1000).toFixed(2)).join(", ")})`);
await Promise.race([chrome.close(), new Promise(done => setTimeout(done, 5000))]);
process.exit(0);
