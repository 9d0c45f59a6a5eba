// Everything by keyboard, with names for who does not see it, at any width.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { columns, kinds, open } from './browser.mjs';

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

async function violations(page) {
  await page.evaluate(axeSource);
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  return found.violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.target.join(' ') + ' ' + (node.any[0]?.message ?? '')).slice(0, 3).join(', ')}`);
}

/** Tab until the element has the focus; what can be reached. */
async function tabTo(page, id) {
  for (let i = 0; i < 80; ++i) {
    await page.keyboard.press('Tab');
    if (await page.evaluate((wanted) => document.activeElement.id === wanted || document.activeElement.getAttribute('aria-label') === wanted, id)) return true;
  }
  return false;
}

export async function access({ browser, native, check }) {
  const address = native.page('access.html', ['attenuator-engaged.chain.toml', ...kinds.map((kind) => `${kind}.earphone.toml`)]);
  for (const colorScheme of ['light', 'dark'])
    for (const width of [390, 640, 1280]) {
      const { page, faults, context } = await open(browser, address + '#to=file+attenuator-engaged.chain.toml&keep=30&earphone=two-way-armature.earphone.toml&earphone=planar.earphone.toml', { viewport: { width, height: 900 }, colorScheme, reducedMotion: 'reduce' });
      await page.evaluate(() => (document.getElementById('measure').open = true));
      await page.waitForTimeout(600);
      for (const one of await violations(page)) check.that(false, `${colorScheme}, ${width} px: ${one}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      check.that(wide <= 0, `${colorScheme}, ${width} px: the page is ${wide} px too wide`);
      check.same(faults.join('; '), '', 'faults');
      await context.close();
    }
  const { page, context } = await open(browser, address);
  const sentence = () => page.locator('#sentence').textContent();
  const before = await sentence();
  const sliders = page.locator('#to input[type=range]');
  check.same(await sliders.count(), 1, 'sliders of a resistance');
  check.that(await tabTo(page, 'output impedance, ohm'), 'the slider is out of reach');
  await page.keyboard.press('Tab');
  check.that(await tabTo(page, 'output impedance, ohm'), 'the other slider is out of reach');
  for (let i = 0; i < 20; ++i) await page.keyboard.press('ArrowRight');
  await page.waitForTimeout(700);
  check.that((await sentence()) !== before, 'the slider moves nothing');
  check.same(await page.locator('#said').textContent(), await sentence(), 'what is said aloud');
  check.that(await tabTo(page, 'keep'), 'the button is out of reach');
  await page.keyboard.press('Enter');
  await page.waitForTimeout(100);
  check.that(await tabTo(page, 'cursor'), 'the readout is out of reach');
  const read = await page.locator('#readout').textContent();
  await page.keyboard.press('ArrowRight');
  check.that((await page.locator('#readout').textContent()) !== read, 'the readout stays');
  for (const [id, ending] of [['svg', 'svg'], ['png', 'png'], ['csv', 'csv']]) {
    check.that(await tabTo(page, id), `${id} is out of reach`);
    const [taken] = await Promise.all([page.waitForEvent('download'), page.keyboard.press('Enter')]);
    check.that(taken.suggestedFilename().endsWith('.' + ending), `${id} gives ${taken.suggestedFilename()}`);
    const bytes = readFileSync(await taken.path());
    if (ending === 'csv') check.that(columns(bytes.toString()).get('deviation_db_1').length === 480, 'the table is short');
    if (ending === 'svg') check.that(bytes.includes('instead of') && !bytes.includes('NaN'), 'the figure has no title, or no numbers');
    if (ending === 'png') check.that(bytes.length > 20000, `the picture has ${bytes.length} bytes`);
  }
  check.that(await tabTo(page, 'link'), 'the link is out of reach');
  await page.keyboard.press('Enter');
  const link = await page.locator('#address').inputValue();
  const shown = await sentence();
  const other = await open(browser, link);
  check.same(await other.page.locator('#sentence').textContent(), shown, 'what the link restores');
  await other.context.close();
  await context.close();
}
