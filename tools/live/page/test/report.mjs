// The live page as the last part of a report: whole without script, and the same answers with it.
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { demo, open } from './browser.mjs';

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

export async function report({ browser, native, check }) {
  const file = join(native.folder, 'report.html');
  const names = ['two-way-armature.earphone.toml', 'planar.earphone.toml'];
  const done = native.run(['report', 'attenuator-engaged.chain.toml', ...names, '--live', '--live-template', native.template, '-o', file, '--force'], demo);
  check.same(done.status, 0, done.stderr);
  const address = pathToFileURL(file).href;
  for (const colorScheme of ['light', 'dark'])
    for (const width of [390, 1280]) {
      const { page, faults, context } = await open(browser, address, { viewport: { width, height: 900 }, colorScheme });
      await page.waitForTimeout(600);
      const live = page.locator('#ohmtilt-live');
      const sentence = await live.locator('#sentence').textContent();
      check.that(done.stdout.split('\n').includes(sentence), `${colorScheme}, ${width} px: the program does not say "${sentence}"`);
      await page.evaluate(axeSource);
      const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
      for (const one of found.violations) check.that(false, `${colorScheme}, ${width} px: ${one.id}: ${one.nodes.map((node) => node.target.join(' ')).slice(0, 3).join(', ')}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      check.that(wide <= 0, `${colorScheme}, ${width} px: the page is ${wide} px too wide`);
      await live.locator('#to input[type=checkbox]').first().uncheck();
      await page.waitForTimeout(400);
      check.that((await live.locator('#sentence').textContent()) !== sentence, 'a switch moves nothing');
      if (process.env.OHMTILT_LIVE_PICTURES) await page.screenshot({ path: join(process.env.OHMTILT_LIVE_PICTURES, `report-${colorScheme}-${width}.png`), fullPage: true });
      check.same(faults.join('; '), '', 'faults');
      await context.close();
    }
  const bare = await browser.newContext({ javaScriptEnabled: false });
  const page = await bare.newPage();
  await page.goto(address);
  check.that((await page.locator('main').first().textContent()).length > 2000, 'without script the report is not whole');
  await bare.close();
}
