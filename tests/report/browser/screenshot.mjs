// A picture of a report's first screens: node screenshot.mjs REPORT PNG CHROMIUM (tools/sample runs it).
import { chromium } from "playwright-core";

const [report, picture, browser] = process.argv.slice(2);
const chrome = await chromium.launch({ executablePath: browser, args: ["--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-background-networking"] });
const page = await chrome.newPage({ viewport: { width: 1000, height: 1900 } });
page.setDefaultTimeout(120000);
await page.goto("file://" + report);
await page.waitForFunction(() => performance.getEntriesByName("drawn").length);
await page.screenshot({ path: picture });
await Promise.race([chrome.close(), new Promise(done => setTimeout(done, 5000))]);
process.exit(0);
