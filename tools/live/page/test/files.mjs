// Files of a reader's own: the same messages as the command's, whatever is in them.
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { drop, kinds, open, root, demo } from './browser.mjs';

/** Every seed of the readers' fuzz targets under a name that leads it to its reader. */
function badFiles() {
  const corpus = join(root, 'tests/fuzz/corpus');
  const endings = { fuzz_curve: '', fuzz_touchstone: '.s1p', fuzz_circuit: '.circuit.toml', fuzz_earphone: '.earphone.toml', fuzz_chain: '.chain.toml' };
  const all = [];
  for (const [folder, ending] of Object.entries(endings))
    for (const file of readdirSync(join(corpus, folder)).sort()) {
      const stem = file.replace(/\..*$/, '');
      const name = ending === '' ? (/\.(csv|txt|tsv)$/.test(file) ? file : `${stem}.csv`) : stem + ending;
      all.push({ name: `${folder}-${name}`, bytes: readFileSync(join(corpus, folder, file)) });
    }
  const written = { 'empty.csv': '', 'words.csv': 'hello\nworld\n', 'binary.csv': '1,2\n\0\n', 'wide.csv': '\ufeff1,2', 'one.csv': '100,32\n', 'falling.csv': '100,32\n90,31\n', 'negative.csv': '100,-32\n200,30\n', 'no.earphone.toml': 'title = "x"\n', 'broken.chain.toml': '[source\n', 'other.earphone.toml': 'impedance = "missing.csv"\n' };
  for (const [name, text] of Object.entries(written)) all.push({ name, bytes: Buffer.from(text, name === 'wide.csv' ? 'utf16le' : 'utf8') });
  all.push({ name: 'two-way-armature.response.csv', bytes: readFileSync(join(demo, 'two-way-armature.response.csv')) }); // without its earphone
  return all;
}

function messagesOf(stderr) {
  return stderr.split('\n').filter(Boolean).map((line) => line.replace(/^ohmtilt: (warning: |caution: |note: )?/, ''));
}

/** A sequence of numbers that a seed fixes (Park and Miller 1988). */
function random(seed) {
  let state = seed;
  return (below) => {
    state = (state * 48271) % 2147483647;
    return state % below;
  };
}

function mutated(bytes, draw) {
  const copy = Buffer.from(bytes);
  for (let i = 0, count = 1 + draw(8); i < count && copy.length > 0; ++i) copy[draw(copy.length)] = draw(256);
  return draw(4) === 0 ? copy.subarray(0, draw(copy.length + 1)) : copy;
}

export async function files({ browser, native, check }) {
  const folder = join(native.folder, 'bad');
  mkdirSync(folder, { recursive: true });
  const address = native.page('files.html', ['bare-output.chain.toml', 'planar.csv']);
  const { page, faults, context } = await open(browser, address);
  let refused = 0;
  const all = badFiles();
  for (const { name, bytes } of all) {
    writeFileSync(join(folder, name), bytes);
    const chain = name.endsWith('.chain.toml');
    const args = chain ? ['solve', name] : ['deviation', name, '--to', '6', '--largest-source', '1'];
    const done = native.run(args, folder);
    const taken = await drop(page, [{ name, base64: bytes.toString('base64') }]);
    const messages = messagesOf(done.stderr);
    const said = taken.opened.length > 0 ? taken.trouble : taken.refused; // opened, it may still be beyond the state
    if (done.status === 2) {
      ++refused;
      check.that(said.length > 0 && said.every((one) => messages.includes(one)), `${name}: the page says "${said.join('; ')}", the program "${messages.join('; ')}"`);
    } else if (!chain) {
      check.same(said.join('; '), '', `${name}: the program takes it, the page`);
      for (const note of taken.warnings) check.that(messages.some((line) => line.endsWith(note)), `${name}: the program does not note "${note}"`);
    }
  }
  const responses = ['one', 'other'].map((name) => ({ name: `${name}.response.csv`, base64: readFileSync(join(demo, 'planar.response.csv')).toString('base64') }));
  const alone = await drop(page, responses);
  check.same(alone.refused.length + alone.opened.length, 2, 'responses without an earphone, of which is said something');
  check.that(refused >= 20, `only ${refused} bad files`);

  const huge = await drop(page, [{ name: 'huge.csv', size: 200 * 2 ** 20 }]);
  check.that(huge.refused.length === 1 && huge.refused[0].startsWith('huge.csv: the file is larger than 16 MB'), `200 MB: ${huge.refused.join('; ')}`);

  const draw = random(20261128);
  const seeds = kinds.flatMap((kind) => ['csv', 'circuit.toml', 'earphone.toml'].map((form) => `${kind}.${form}`));
  for (let i = 0; i < 1000; ++i) {
    const seed = seeds[draw(seeds.length)];
    await drop(page, [{ name: `mutated-${seed}`, base64: mutated(readFileSync(join(demo, seed)), draw).toString('base64') }]);
  }
  const after = await drop(page, [{ name: 'last.csv', base64: readFileSync(join(demo, 'planar.csv')).toString('base64') }]);
  check.that(after.trouble.length === 0 && after.sentence.startsWith('The response'), `after 1000 mutations the page says "${after.trouble.join('; ')}${after.sentence}"`);
  check.same(faults.join('; '), '', 'faults');
  await context.close();
  return `${all.length} files, ${refused} of them refused in the program's words; 1000 mutations`;
}
