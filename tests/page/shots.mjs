import { chromium } from "playwright-core";
const b = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox","--disable-gpu"] });
const [,, file, out, ...specs] = process.argv;
for (const spec of specs) {
  const [w, scheme, y0="0", h="1500", js="1"] = spec.split(",");
  const c = await b.newContext({ viewport: { width: +w, height: +h }, colorScheme: scheme, javaScriptEnabled: js==="1" });
  const p = await c.newPage();
  await p.goto("file://" + file);
  await p.evaluate(() => document.fonts.ready).catch(()=>{});
  if (y0.startsWith("#")) await p.evaluate((s) => document.querySelector(s).scrollIntoView(), y0); else await p.evaluate((y) => scrollTo({top:y,behavior:"instant"}), +y0).catch(()=>{});
  await p.waitForTimeout(900);
  await p.screenshot({ path: `${out}-${w}-${scheme}-${y0.replace("#","")}.png` });
  await c.close();
}
await b.close();
