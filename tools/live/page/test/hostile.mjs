// Titles and names of files are text, wherever they stand; the page asks nothing of anyone.
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { demo, open, show } from './browser.mjs';

const hostileTitle = '</script><img src=x onerror=alert(1)><!--ohmtilt:given--> & "\' ${7*7} <svg onload=alert(2)>';

export async function hostile({ browser, native, check }) {
  const folder = join(native.folder, 'hostile');
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, "a'b\"&<i>.csv"), readFileSync(join(demo, 'two-way-armature.csv')));
  const quoted = JSON.stringify(hostileTitle);
  writeFileSync(join(folder, 'one.earphone.toml'), `title = ${quoted}\nlabel = ${quoted}\nkind = ${quoted}\nimpedance = "a'b\\"&<i>.csv"\n`);
  writeFileSync(join(folder, 'two.chain.toml'), `title = ${quoted}\nlabel = ${quoted}\n[source]\noutput_ohm = 3\n`);
  const address = native.page('hostile.html', ['two.chain.toml', 'one.earphone.toml', '--title', hostileTitle], folder);
  const { page, faults, context } = await open(browser, address);
  const shown = await show(page, { earphone: 'one.earphone.toml', from: '0', to: 'file two.chain.toml', keep: '30' });
  check.same(shown.trouble, '', 'trouble');
  check.that(shown.heading.includes('<img src=x onerror=alert(1)>'), `heading: ${shown.heading}`);
  check.same(await page.title(), hostileTitle, 'the page\'s title');
  check.same(await page.locator('img, svg[onload], i').count(), 0, 'elements from titles');
  for (const fragment of ['earphone=%3Cimg%20src%3Dx%20onerror%3Dalert(3)%3E', 'to=pad%20-1%20x', 'to=file%20../../etc/passwd', 'from=1e999', 'anchor=nowhere', 'limit=-1&earphone=one.earphone.toml', 'to=file two.chain.toml | 9 off', 'keep=%0Aearphone%20x']) {
    const answer = await page.evaluate((words) => {
      location.hash = words;
      window.dispatchEvent(new HashChangeEvent('hashchange'));
      return document.getElementById('trouble').textContent;
    }, fragment);
    check.that(answer.length > 0, `#${fragment} is taken for a state`);
  }
  check.same(faults.join('; '), '', 'faults');
  const plain = await browser.newContext({ javaScriptEnabled: false });
  const without = await plain.newPage();
  await without.goto(address);
  const text = await without.locator('#start').textContent();
  check.that(text.includes('The response'), `without a script the page says "${text.slice(0, 200)}"`);
  await plain.close();
  await context.close();
}
