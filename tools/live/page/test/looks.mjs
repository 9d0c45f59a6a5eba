// Pictures of the page, to be looked at: OHMTILT_LIVE_PICTURES names the folder.
import { join } from 'node:path';
import { kinds, open } from './browser.mjs';

export async function looks({ browser, native }) {
  const folder = process.env.OHMTILT_LIVE_PICTURES ?? 'build/live/pictures';
  const address = native.page('looks.html', ['bare-output.chain.toml', 'attenuator-engaged.chain.toml', ...kinds.map((kind) => `${kind}.earphone.toml`)]);
  const states = {
    start: '', several: '#earphone=two-way-armature.earphone.toml&earphone=planar.earphone.toml&earphone=five-armature.earphone.toml&from=0.3&to=6&keep=30&keep=pad+10+32',
    chain: '#earphone=five-armature.earphone.toml&from=file+bare-output.chain.toml&to=file+attenuator-engaged.chain.toml',
  };
  for (const [name, fragment] of Object.entries(states))
    for (const colorScheme of ['light', 'dark'])
      for (const width of [390, 1280]) {
        const { page, context } = await open(browser, address + fragment, { viewport: { width, height: 900 }, colorScheme });
        await page.waitForTimeout(800);
        await page.screenshot({ path: join(folder, `${name}-${colorScheme}-${width}.png`), fullPage: true });
        if (width === 1280 && colorScheme === 'light') {
          const [taken] = await Promise.all([page.waitForEvent('download'), page.click('#png')]);
          await taken.saveAs(join(folder, `${name}-taken.png`));
          await page.pdf({ path: join(folder, `${name}.pdf`) });
        }
        await context.close();
      }
  return folder;
}
