// What the page shows equals what the program prints: numbers to 1e-10 dB, words to the letter.
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { columns, demo, kinds, open, show } from './browser.mjs';

const nearest = 1e-10; // dB

/** The demo earphones, and their curves with the phase taken away. */
function earphonesIn(folder) {
  const names = kinds.map((kind) => `${kind}.earphone.toml`);
  mkdirSync(folder, { recursive: true });
  for (const kind of kinds) {
    const rows = readFileSync(join(demo, `${kind}.csv`), 'utf8').split('\n');
    const bare = rows.map((row) => (row.startsWith('#') ? row : row.split(',').slice(0, 2).join(',')));
    writeFileSync(join(folder, `${kind}-without-phase.csv`), bare.join('\n'));
  }
  return { whole: names, bare: kinds.map((kind) => `${kind}-without-phase.csv`) };
}

/** From 0.05 to 1000 ohm in equal ratios. */
function resistances(count) {
  return Array.from({ length: count }, (_, i) => String(Number((0.05 * 20000 ** (i / (count - 1))).toPrecision(4))));
}

function largestDifference(one, other) {
  if (!one || !other || one.length !== other.length) return Infinity;
  return one.reduce((most, value, i) => Math.max(most, Math.abs(value - other[i])), 0);
}

export async function numbers({ browser, native, check }) {
  const folder = join(native.folder, 'curves');
  const { whole, bare } = earphonesIn(folder);
  const sources = ['0', ...resistances(46)];
  const bareSources = ['0', ...resistances(49)];
  const chains = ['bare-output.chain.toml', 'attenuator-engaged.chain.toml', 'three-wire-cable.chain.toml'];
  let worst = 0;
  let compared = 0;
  for (const [names, at, chosen] of [[whole, demo, [...sources, ...chains]], [bare, folder, bareSources]]) {
    const address = native.page('numbers.html', [...chosen.filter((one) => one.endsWith('.toml')), ...names], at);
    const { page, faults, context } = await open(browser, address);
    for (const name of names) {
      const csv = join(native.folder, 'native.csv');
      const done = native.run(['deviation', name, '--from', '0.3', ...chosen.flatMap((one) => ['--to', one]), '--csv', csv, '--force'], at);
      check.same(done.status, 0, `${name}: ${done.stderr}`);
      const wanted = columns(readFileSync(csv, 'utf8'));
      for (const [i, source] of chosen.entries()) {
        const shown = await show(page, { earphone: name, from: '0.3', to: source.endsWith('.toml') ? `file ${source}` : source });
        check.same(shown.trouble, '', `${name} at ${source}`);
        const found = columns(shown.csv);
        for (const column of ['deviation_db', 'response_db']) {
          const other = wanted.get(`${column}_${i + 1}`);
          if (!other) continue;
          const difference = largestDifference(found.get(`${column}_1`), other);
          worst = Math.max(worst, difference);
          check.that(difference <= nearest, `${name} at ${source}: ${column} differs by ${difference} dB`);
          ++compared;
        }
      }
    }
    check.same(faults.join('; '), '', 'faults');
    await context.close();
  }
  check.that(compared >= 12 * 50, `only ${compared} curves were compared`);
  return `${compared} curves, at most ${worst.toExponential(1)} dB apart`;
}

export async function words({ browser, native, check }) {
  const folder = join(native.folder, 'curves');
  const { whole, bare } = earphonesIn(folder);
  const sources = ['0', '0.3', '2.2', '6R8', '47', '600'];
  let compared = 0;
  for (const [names, at, chosen] of [[whole, demo, [...sources, 'attenuator-engaged.chain.toml']], [bare, folder, sources]]) {
    const address = native.page('words.html', [...chosen.filter((one) => one.endsWith('.toml')), ...names], at);
    const { page, faults, context } = await open(browser, address);
    for (const name of names)
      for (const source of chosen) {
        const done = native.run(['deviation', name, '--from', '0.3', '--to', source, '--largest-source', '1'], at);
        const lines = done.stdout.split('\n');
        const shown = await show(page, { earphone: name, from: '0.3', to: source.endsWith('.toml') ? `file ${source}` : source });
        const of = `${name} at ${source}`;
        check.that(lines.includes(shown.sentence), `${of}: the program does not say "${shown.sentence}"`);
        check.that(shown.heading.endsWith(lines[2] ?? '?'), `${of}: the heading "${shown.heading}" is not "${lines[2]}"`);
        const last = lines.filter((line) => line.includes('resistive source')).at(-1);
        check.that(shown.facts.includes(last), `${of}: "${shown.facts}" does not say "${last}"`);
        check.that(done.stdout.includes(shown.uncertainty), `${of}: the program does not say "${shown.uncertainty}"`);
        const notes = done.stderr.split('\n');
        for (const note of [...shown.warnings, ...shown.cautions])
          check.that(notes.some((line) => line.endsWith(note)), `${of}: the program does not note "${note}"`);
        ++compared;
      }
    check.same(faults.join('; '), '', 'faults');
    await context.close();
  }
  return `${compared} answers`;
}
