// The room page in a real browser, at phone and desktop size: a day's work, what axe-core finds, targets, pictures.
// node room.mjs ADDRESS CODE PHOTO FOLDER : prints one line of JSON and ends with 1 where something is wrong.
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { createRequire } from "node:module";

const [address, code, photo, folder] = process.argv.slice(2);
// Both packages lie in the folder from which the test starts this script.
const load = createRequire(path.join(process.cwd(), "package.json"));
const puppeteer = load("puppeteer-core");
const axe = fs.readFileSync(load.resolve("axe-core/axe.min.js"), "utf8");
const faults = [];
const seconds = {};
let device = "phone";

const browser = await puppeteer.launch({
  executablePath: execFileSync("which", [process.env.BROWSER]).toString().trim(),
  args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"],
});
const page = await browser.newPage();
page.setDefaultTimeout(120000);
page.on("console", (line) => {
  if (line.type() === "error" && !line.text().includes("status of 4")) faults.push(`${page.url()}: ${line.text()}`);
});
page.on("pageerror", (error) => faults.push(`${page.url()}: ${error.message}`));

function must(is, what) {
  if (!is) faults.push(`${device} ${page.url()}: ${what}`);
}

async function text() {
  return page.evaluate(() => document.body.innerText);
}

// What a thumb must hit, and what makes a page wider than its screen.
function measured() {
  const out = [];
  for (const element of document.querySelectorAll("a.button, a.inline, a.row, a.tile, a.card, button, summary, select, input:not([type=hidden]):not([type=file])")) {
    const box = element.getBoundingClientRect();
    const label = element.labels && element.labels[0] ? element.labels[0].getBoundingClientRect().height : 0;
    if (box.width > 0 && Math.max(box.height, label) < 47.5) out.push(`target of ${Math.round(box.height)} px: ${(element.textContent || element.id).trim().slice(0, 40)}`);
  }
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (wide > 1) out.push(`${wide} px wider than the screen`);
  return out;
}

async function look(name) {
  for (const fault of await page.evaluate(measured)) must(false, fault);
  await page.evaluate(axe);
  const found = await page.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  for (const one of found.violations) {
    if (["serious", "critical"].includes(one.impact)) must(false, `axe ${one.id}: ${one.nodes.map((node) => node.html.slice(0, 90)).slice(0, 3).join(" | ")}`);
  }
  await page.screenshot({ path: path.join(folder, `${device}-${name}.png`), fullPage: true });
}

async function open(where, name) {
  await page.goto(address + where, { waitUntil: "load" });
  if (name) await look(name);
}

// Taps what says so, and waits for the page it leads to.
async function tap(words, inside = "") {
  const found = await page.evaluateHandle(
    (words, inside) => [...document.querySelectorAll(`${inside} a, ${inside} button`)].find((element) => (element.innerText || "").trim().startsWith(words)),
    words,
    inside,
  );
  const element = found.asElement();
  if (!element) throw new Error(`nothing on ${page.url()} says: ${words}`);
  await Promise.all([page.waitForNavigation({ waitUntil: "load" }), element.click()]);
}

async function send(bytes, name) {
  const file = path.join(folder, name);
  fs.writeFileSync(file, bytes);
  const field = await page.$("#choose");
  const began = performance.now();
  await Promise.all([page.waitForNavigation({ waitUntil: "load" }), field.uploadFile(file)]);
  seconds[`${device} ${name}`] = Math.round(performance.now() - began) / 1000;
}

async function day(tank) {
  const red = fs.readFileSync(photo);
  const own = (what) => Buffer.concat([red, Buffer.from(device + what)]);
  await open("/", "wall");
  await open(`/tank/${tank}`, "tank");
  await tap("Netted now");
  must((await text()).includes("House limit"), "no timer");
  await send(own("one"), "one.jpg");
  if ((await text()).includes("Is this really tank")) await tap("Yes, it is");
  if ((await text()).includes("photographed again?")) await tap("No, a new scoop");
  must(/\d animals found/.test(await text()), "the count is not told");
  await look("scoop");
  const scoop = new URL(page.url()).pathname;
  await open(`${scoop}/animal/3`, "animal");
  await tap("Not an animal");
  must((await text()).includes("Not an animal, says"), "the correction is not shown");
  await look("corrected");
  await open(scoop);
  must((await text()).includes("not an animal, says"), "the correction is not on the scoop's page");
  await open("/trail", "trail");
  await tap("Take back the last change");
  await open(scoop);
  must(!(await text()).includes("not an animal, says"), "undo did not take the correction back");

  await open(`/tank/${tank}/trend`, "trend");
  must(/coverage/i.test(await text()), "no trend");
  await open(`/tank/${tank}/sort`, "sort-begin");
  await tap("Begin", "main");
  await look("sort");
  await page.click("#sexfemale");
  await send(own("cup one"), "cup-1.jpg");
  if ((await page.url()).includes("/sort/sure/")) {
    must(!/MOVE OUT/.test(await text()), "orders for what may be another tank");
    await look("cup-sure");
    await tap("Yes, it is");
  }
  must(/KEEP|TUB|MOVE OUT|BACK/.test(await text()), "no orders for the first cup");
  await look("cup");
  // Another cup sent as the same one again: the page asks, and nothing is decided.
  await tap("Photograph this cup again");
  must(await page.$eval("#again", (tick) => tick.checked), "the tick for the same cup is not set");
  await send(fs.readFileSync(path.join(path.dirname(photo), "red-mostly-clear-and-plant_9-animals.jpg")), "again.jpg");
  must((await text()).includes("Nothing is decided yet"), "no question about the other photo");
  await look("cup-again");
  const tall = () => page.evaluate(() => document.documentElement.scrollHeight / window.innerHeight);
  must((await tall()) < 2, `the question about another cup is ${(await tall()).toFixed(1)} screens long`);
  await page.click("details summary");
  await look("cup-again-same");
  const asked = await page.$$eval("select", (fields) => fields.length);
  must(asked > 10, "what became of the animals is not asked");
  // A title, a picture, two lines and a choice for each; titles and the new photo beside.
  must((await tall()) < 2.5 + 0.45 * asked, `${asked} questions are ${(await tall()).toFixed(1)} screens long`);
  await tap("It is another cup");
  await open(`/tank/${tank}/sort/cup/1`);
  await tap("Next cup");
  await page.click("#sexmale");
  await send(own("cup two"), "cup-2.jpg");
  must((await page.url()).endsWith("/cup/2"), "no second cup");
  await open(`/tank/${tank}/sort`);
  await tap("End the sorting");
  await look("sort-end");

  await open(scoop);
  await tap("Make a proof");
  await look("proof-ask");
  await tap("Make and sign it");
  await look("proofs");
  await tap("Look at");
  must((await page.title()).length > 0, "the proof has no title");
  await page.screenshot({ path: path.join(folder, `${device}-proof.png`), fullPage: true });
  for (const [where, name] of [["/prices", "prices"], ["/errors", "errors"], ["/labels", "labels"], ["/devices", "devices"], ["/nowhere", "not-done"]]) await open(where, name);
}

// Address of a tank's latest scoop.
async function scoopOf(tank) {
  await open(`/tank/${tank}`);
  return page.$eval("a[href^='/scoop/']", (link) => new URL(link.href).pathname);
}

try {
  const phone = { width: 390, height: 844, deviceScaleFactor: 2, isMobile: true, hasTouch: true };
  await page.setViewport(phone);
  await open("/tank/A1", "pair");
  must(new URL(page.url()).pathname === "/pair", "an unpaired phone sees more than the pairing page");
  await page.type("#code", code);
  await page.type("#name", "Mara");
  await tap("Pair", "main");
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: "dark" }]);
  await day("A1");
  // The phone's light colours too: dark ones are seldom what stands in a bright room.
  device = "phone-light";
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: "light" }]);
  const latest = await scoopOf("A1");
  for (const [where, name] of [["/", "wall"], ["/tank/A1", "tank"], [latest, "scoop"], [`${latest}/animal/3`, "animal"], ["/tank/A1/sort/cup/1", "cup"], ["/tank/A1/sort", "sort-begin"], ["/prices", "prices"], ["/proofs", "proofs"], ["/trail", "trail"]]) await open(where, name);
  device = "desktop";
  await page.setViewport({ width: 1280, height: 900 });
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: "light" }]);
  await day("A2");
} catch (error) {
  faults.push(`${device} ${page.url()}: ${error.message}`);
  await page.screenshot({ path: path.join(folder, `${device}-fault.png`) });
}
await browser.close();
console.log(JSON.stringify({ faults, seconds }));
process.exit(faults.length ? 1 : 0);
