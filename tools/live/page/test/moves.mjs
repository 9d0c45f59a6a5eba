// What a move costs, and that nothing is left behind by many. Times are told, not judged.
import { statSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { kinds, moveInPage, open, quantile } from './browser.mjs';

function move(page, count) {
  return page.evaluate(moveInPage, count);
}

/** Processor milliseconds of the page's own thread for each move, whatever else the machine does. */
async function processorTime(session, page, count) {
  await session.send('Performance.enable', { timeDomain: 'threadTicks' });
  const spent = async () => (await session.send('Performance.getMetrics')).metrics.find((one) => one.name === 'TaskDuration').value;
  const before = await spent();
  await move(page, count);
  return ((await spent()) - before) * 1000 / count;
}

async function memory(page, session) {
  await session.send('HeapProfiler.collectGarbage');
  const { usedSize } = await session.send('Runtime.getHeapUsage');
  return { heap: usedSize, library: await page.evaluate(() => window.drawn.memory), nodes: await page.evaluate(() => document.querySelectorAll('*').length) };
}

export async function moves({ browser, native, check }) {
  const count = Number(process.env.OHMTILT_LIVE_MOVES ?? 1500);
  const names = kinds.map((kind) => `${kind}.earphone.toml`);
  const address = native.page('moves.html', ['attenuator-engaged.chain.toml', ...names]);
  const megabytes = statSync(fileURLToPath(address)).size / 1e6;
  const { page, faults, context } = await open(browser, address + '#' + names.slice(0, 5).map((name) => 'earphone=' + name).join('&'));
  const first = await page.evaluate(() => document.documentElement.dataset.started);
  await move(page, 50);
  const five = await move(page, 300);
  const session = await context.newCDPSession(page);
  const processor = await processorTime(session, page, 200);
  await page.evaluate((name) => {
    location.hash = 'earphone=' + name;
  }, names[1]);
  await page.waitForTimeout(500);
  await move(page, 300);
  const before = await memory(page, session);
  const one = await move(page, count);
  const after = await memory(page, session);
  check.that(after.library === before.library, `the library grew from ${before.library} to ${after.library} bytes`);
  check.that(after.heap - before.heap < 1e6, `the page grew from ${before.heap} to ${after.heap} bytes in ${count} moves`);
  check.that(after.nodes <= before.nodes + 20, `the page grew from ${before.nodes} to ${after.nodes} elements`);
  check.that(megabytes < 2.5, `the page has ${megabytes.toFixed(2)} MB`);
  check.same(faults.join('; '), '', 'faults');
  await context.close();
  const told = (times) => `${quantile(times, 0.5).toFixed(1)} ms, 99 % below ${quantile(times, 0.99).toFixed(1)} ms`;
  return `a move with five earphones ${told(five)} (${processor.toFixed(1)} ms of the processor); with one ${told(one)}; first figure after ${first} ms; ${megabytes.toFixed(2)} MB with six; heap ${((after.heap - before.heap) / 1e3).toFixed(0)} kB more after ${count} moves`;
}
