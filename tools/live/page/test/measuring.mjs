// From sound card to answer in headless Chromium, whose invented capture device plays a file that an invented earphone,
// resistor, noise and latency made; what it plays is not heard by it.
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { drop, kinds, open, startBrowser } from './browser.mjs';

const reference = 22;
const source = 3;
const gain = 1.02; // of the second input over the first
const seconds = 3;
const latency = 0.9;
const tones = 1.4; // of the stimulus's test tones and the gap before its sweep, s

/** In place, forwards or back without its factor (Cooley and Tukey 1965). */
function fourier(re, im, back) {
  const n = re.length;
  for (let i = 1, j = 0; i < n; ++i) {
    let bit = n >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) [re[i], re[j], im[i], im[j]] = [re[j], re[i], im[j], im[i]];
  }
  for (let size = 2; size <= n; size *= 2) {
    const half = size / 2;
    const cos = Float64Array.from({ length: half }, (_, k) => Math.cos((2 * Math.PI * k) / size));
    const sin = Float64Array.from({ length: half }, (_, k) => (back ? 1 : -1) * Math.sin((2 * Math.PI * k) / size));
    for (let start = 0; start < n; start += size)
      for (let k = 0; k < half; ++k) {
        const [a, b] = [start + k, start + k + half];
        const x = re[b] * cos[k] - im[b] * sin[k];
        const y = re[b] * sin[k] + im[b] * cos[k];
        [re[b], im[b], re[a], im[a]] = [re[a] - x, im[a] - y, re[a] + x, im[a] + y];
      }
  }
}

const times = (a, b) => [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]];
const over = (a, b) => times(a, [b[0] / (b[0] ** 2 + b[1] ** 2), -b[1] / (b[0] ** 2 + b[1] ** 2)]);
const plus = (a, b) => [a[0] + b[0], a[1] + b[1]];

/** A voice coil with a resonance at 2.4 kHz (invented): 16 ohm, 90 uH, and 30 ohm across a tuned circuit of Q 3. */
function earphone(hz, scale = 1) {
  const w = 2 * Math.PI * hz;
  const tuned = over([1, 0], plus([1 / 30, 0], [0, (3 / 30) * (hz / 2400 - 2400 / hz)]));
  return [scale * (16 + tuned[0]), scale * (w * 90e-6 + tuned[1])];
}

/** A sequence of numbers that a seed fixes (Park and Miller 1988), and normal ones of it (Box and Muller 1958). */
function normal(seed) {
  let state = seed;
  const even = () => (state = (state * 48271) % 2147483647) / 2147483647;
  return () => Math.sqrt(-2 * Math.log(even())) * Math.cos(2 * Math.PI * even());
}

function read(wav) {
  const bytes = readFileSync(wav);
  const rate = bytes.readUInt32LE(24);
  const start = bytes.indexOf('data') + 8;
  return { rate, samples: Float64Array.from({ length: Math.floor((bytes.length - start) / 3) }, (_, i) => bytes.readIntLE(start + 3 * i, 3) / 2 ** 23) };
}

/** 16 bits, as the invented device takes them. */
function write(file, rate, [first, second]) {
  const bytes = Buffer.alloc(44 + 4 * first.length);
  bytes.write('RIFF', 0);
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write('WAVEfmt ', 8);
  [[16, 16], [28, 4 * rate], [24, rate], [40, 4 * first.length]].forEach(([at, value]) => bytes.writeUInt32LE(value, at));
  [[20, 1], [22, 2], [32, 4], [34, 16]].forEach(([at, value]) => bytes.writeUInt16LE(value, at));
  bytes.write('data', 36);
  const step = (value) => Math.max(-32768, Math.min(32767, Math.round(value * 32767)));
  first.forEach((value, i) => {
    bytes.writeInt16LE(step(value), 44 + 4 * i);
    bytes.writeInt16LE(step(second[i]), 46 + 4 * i);
  });
  writeFileSync(file, bytes);
}

/** Both inputs while the sound plays: z is the load's impedance, or nothing where one signal goes to both. */
function recording({ rate, samples }, z, seed) {
  const frames = Math.round(16 * rate);
  const n = 2 ** Math.ceil(Math.log2(frames));
  const peak = samples.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const [re, im] = [new Float64Array(n), new Float64Array(n)];
  samples.forEach((value, i) => (re[i + Math.round(latency * rate)] = (0.35 / peak) * value));
  fourier(re, im, false);
  const draw = normal(seed);
  const channels = [0, 1].map((which) => {
    const [a, b] = [new Float64Array(n), new Float64Array(n)];
    for (let k = 1; k < n / 2; ++k) {
      const load = z ? z((k * rate) / n) : null;
      let share = [1, 0];
      if (load) share = over(which === 0 ? plus(load, [reference, 0]) : load, plus(load, [reference + source, 0]));
      if (which === 1) share = times(share, [gain, 0]);
      [a[k], b[k]] = times([re[k], im[k]], share);
      [a[n - k], b[n - k]] = [a[k], -b[k]];
    }
    fourier(a, b, true);
    return Float64Array.from({ length: frames }, (_, i) => a[i] / n + 5e-5 * draw());
  });
  return channels;
}

/** What is done to a recording, and words of what the page must say of it. */
function faults(rate) {
  const each = (pair, work) => pair.map((one) => one.map(work));
  const louder = (one) => {
    let envelope = 0.02;
    return one.map((value) => {
      envelope += (Math.abs(value) - envelope) / ((Math.abs(value) > envelope ? 0.02 : 0.6) * rate);
      return value * Math.sqrt(0.05 / Math.max(envelope, 0.005));
    });
  };
  const gone = (one) => one.map((value, i) => (i > (latency + tones + 1.6) * rate && i < (latency + tones + 1.7) * rate ? 0 : value));
  const jump = (one) => {
    const at = Math.round((latency + tones + 2) * rate);
    return Float64Array.from(one, (_, i) => one[i < at ? i : Math.min(one.length - 1, i + 60)]);
  };
  // What was played is taken away more and more, from each input by a canceller of its own.
  const cancelled = (one, which) => one.map((value, i) => value * (0.1 + 0.9 * Math.exp(-Math.max(0, i / rate - latency) / (0.8 + 0.3 * which))));
  const resampled = (one) => one.map((_, i) => {
    const at = Math.min(one.length - 2, i * 1.0003);
    const [whole, part] = [Math.floor(at), at % 1];
    return one[whole] * (1 - part) + one[whole + 1] * part;
  });
  const telephone = (one) => {
    const n = 2 ** Math.ceil(Math.log2(one.length));
    const [re, im] = [new Float64Array(n), new Float64Array(n)];
    re.set(one);
    fourier(re, im, false);
    for (let k = Math.ceil((3600 * n) / rate); k <= n - (3600 * n) / rate; ++k) re[k] = im[k] = 0;
    fourier(re, im, true);
    return one.map((_, i) => re[i] / n);
  };
  return {
    'clipped at full scale': [(pair) => each(pair, (value) => 4 * value), /clipped/],
    'clipped before the input': [([a, b]) => [a.map((value) => Math.max(-0.2, Math.min(0.2, value))), b], /clipped/],
    'one channel twice': [([a]) => [a, a], /one channel/],
    'channels swapped': [([a, b]) => [b, a], /swapped/],
    'no signal': [(pair) => each(pair, () => 0), /silent/],
    'a channel inverted': [([a, b]) => [a, b.map((value) => -value)], /inverted/],
    'samples lost': [(pair) => pair.map(jump), /lost|drops out|clocks differ/],
    'a moment silent': [(pair) => pair.map(gone), /drops out/],
    'echo cancelling': [(pair) => pair.map(cancelled), /noise suppression is on|effects are on/],
    'another clock': [(pair) => pair.map(resampled), /clocks differ/],
    'a telephone\'s band': [(pair) => pair.map(telephone), /another sample rate/],
    'automatic gain': [([a, b]) => [louder(a), louder(b)], /automatic gain/],
  };
}

async function press(page, step) {
  await page.waitForFunction((title) => document.getElementById('measure-title').textContent === title && !document.getElementById('measure-go').disabled, step, { timeout: 90000 });
  await page.focus('#measure-go');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.getElementById('measure-go').disabled, null, { timeout: 5000 }).catch(() => {});
  await page.waitForFunction(() => !document.getElementById('measure-go').disabled, null, { timeout: 180000 });
  return page.evaluate(() => ({ title: document.getElementById('measure-title').textContent, said: document.getElementById('measure-said').textContent, findings: [...document.querySelectorAll('#measure-findings li')].map((one) => one.textContent).join(' ') }));
}

function held(check, text, z, name) {
  const rows = rowsOf(text);
  let [worst, turned, inside] = [0, 0, 0];
  for (const [hz, ohm, deg, uncertainty] of rows) {
    const truth = z(hz);
    const size = Math.hypot(...truth);
    worst = Math.max(worst, Math.abs(ohm / size - 1));
    turned = Math.max(turned, Math.abs(deg - (Math.atan2(truth[1], truth[0]) * 180) / Math.PI));
    if (Math.abs(ohm - size) <= 2 * uncertainty) ++inside;
  }
  check.that(rows.length > 300, `${name}: only ${rows.length} points`);
  check.that(worst <= 0.005, `${name}: |Z| is ${(100 * worst).toFixed(2)} % off`);
  check.that(turned <= 0.5, `${name}: the phase is ${turned.toFixed(2)} degrees off`);
  check.that(inside >= 0.9 * rows.length, `${name}: only ${inside} of ${rows.length} points lie within what is stated`);
  return `|Z| within ${(100 * worst).toFixed(2)} %, ${turned.toFixed(2)} degrees, ${Math.round((100 * inside) / rows.length)} % inside`;
}

export async function measuring({ native, check }) {
  const capture = join(native.folder, 'capture.wav');
  const browser = await startBrowser(['--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream', `--use-file-for-fake-audio-capture=${capture}`, '--autoplay-policy=no-user-gesture-required']);
  const address = native.page('measuring.html', [`${kinds[0]}.earphone.toml`]);
  const { page, faults: wrong, context } = await open(browser, address, { permissions: ['microphone'] });
  const rate = await page.evaluate(() => new AudioContext().sampleRate);
  const sound = join(native.folder, 'stimulus.wav');
  native.run(['acquire', 'stimulus', '--seconds', String(seconds), '--sample-rate', String(rate), '--level-dbfs', '-12', '--write', sound]);
  const played = read(sound);
  const put = (z, seed, spoil = (pair) => pair) => write(capture, rate, spoil(recording(played, z, seed)));
  await page.evaluate((length) => {
    document.getElementById('measure').open = true;
    document.getElementById('measure-seconds').value = String(length);
    document.getElementById('measure-wanted').value = '2';
  }, seconds);
  put(null, 1);
  check.same((await press(page, 'What is needed')).title, 'Level', 'after the devices');
  const level = await press(page, 'Level');
  check.same(level.title, 'One signal on both inputs', `after the level (${level.said} ${level.findings})`);
  await press(page, 'One signal on both inputs');
  put(() => [0.05, 0], 2);
  await press(page, 'A short');
  let named = 0;
  for (const [name, [spoil, word]] of Object.entries(faults(rate))) {
    put(earphone, 10 + named, spoil);
    const found = await press(page, 'Earphone, left');
    check.that(word.test(found.said + ' ' + found.findings), `${name}: the page says "${found.said} ${found.findings}"`);
    ++named;
    if (found.title !== 'Earphone, left') await page.click('#measure-steps button:has-text("Earphone, left")');
  }
  put(earphone, 3);
  const left = await press(page, 'Earphone, left');
  put((hz) => earphone(hz, 1.05), 4);
  const right = await press(page, 'Earphone, right');
  check.same(right.title, 'Done', `after the right side (${left.said} ${left.findings} | ${right.said} ${right.findings})`);
  const told = [];
  for (const [side, scale] of [['left', 1], ['right', 1.05]]) {
    const [taken] = await Promise.all([page.waitForEvent('download'), page.click(`#measure-files button:has-text("measured-${side}.csv")`)]);
    told.push(`${side}: ${held(check, readFileSync(await taken.path(), 'utf8'), (hz) => earphone(hz, scale), side)}`);
  }
  const sides = await page.locator('#measure-sides').textContent();
  check.that(/differ by at most [45]\.[0-9]* %|differ by at most 5 %/.test(sides), `both sides: "${sides}"`);
  check.that((await page.locator('#sentence').textContent()).startsWith('The response'), 'the page does not go on with the earphone');
  check.same(wrong.join('; '), '', 'faults');
  await context.close();
  await silences(browser, address, check);
  const apart = await dropped(browser, address, native, put, capture, sound, check);
  await browser.close();
  return `${told.join('; ')}; ${named} faults named; recordings dropped as files: ${apart} apart from the command`;
}

function rowsOf(text) {
  return text.split('\n').filter((row) => /^[0-9]/.test(row)).map((row) => row.split(',').map(Number));
}

/** WAV files that were recorded elsewhere: the curve is the command's. */
async function dropped(browser, address, native, put, capture, sound, check) {
  const files = [{ name: 'stimulus.wav', bytes: readFileSync(sound) }];
  for (const [name, z, seed] of [['same', null, 21], ['short', () => [0.05, 0], 22], ['take', earphone, 23]]) {
    put(z, seed);
    files.push({ name: `${name}.wav`, bytes: readFileSync(capture) });
  }
  for (const { name, bytes } of files) writeFileSync(join(native.folder, name), bytes);
  const done = native.run(['acquire', 'impedance', 'take.wav', '--reference', String(reference), '--reference-tolerance-percent', '1', '--stimulus', 'stimulus.wav', '--calibrate-same', 'same.wav', '--calibrate-short', 'short.wav', '--write', 'take.csv', '--force'], native.folder);
  check.same(done.status, 0, done.stderr);
  const { page, faults: wrong, context } = await open(browser, address);
  await page.evaluate((all) => {
    const transfer = new DataTransfer();
    for (const { name, base64 } of all) transfer.items.add(new File([Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0))], name));
    window.dispatchEvent(new DragEvent('drop', { dataTransfer: transfer, cancelable: true }));
  }, files.map(({ name, bytes }) => ({ name, base64: bytes.toString('base64') })));
  await page.waitForSelector('#measure-files button', { timeout: 120000 });
  const [taken] = await Promise.all([page.waitForEvent('download'), page.click('#measure-files button:has-text("measured-left.csv")')]);
  const found = rowsOf(readFileSync(await taken.path(), 'utf8'));
  const wanted = rowsOf(readFileSync(join(native.folder, 'take.csv'), 'utf8'));
  check.same(found.length, wanted.length, 'points of the dropped recording');
  const apart = wanted.reduce((most, row, i) => Math.max(most, ...row.map((value, k) => Math.abs(found[i][k] - value) / Math.max(1, Math.abs(value)))), 0);
  check.that(apart <= 1e-9, `the dropped recording gives another curve: ${apart}`);
  const refused = await drop(page, [{ name: 'broken.csv', base64: Buffer.from('x').toString('base64') }]);
  check.that(refused.refused.length === 1, 'a file that is none is taken');
  check.same(wrong.join('; '), '', 'faults');
  await context.close();
  return apart.toExponential(1);
}

/** Refused, vanished, hidden, Escape: silent and named. */
async function silences(browser, address, check) {
  const start = async (hook) => {
    const opened = await open(browser, address, { permissions: ['microphone'] });
    await opened.page.evaluate(hook);
    await opened.page.evaluate(() => (document.getElementById('measure').open = true));
    return opened;
  };
  const refused = await start(() => (navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('no', 'NotAllowedError'))));
  const why = await press(refused.page, 'What is needed');
  check.that(why.findings.includes('not allowed') && why.findings.includes('drop the WAV'), `refused: "${why.findings}"`);
  await refused.context.close();
  const ways = {
    'was lost': () => window.track.dispatchEvent(new Event('ended')),
    'Escape': () => window.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' })),
    'hidden': () => {
      Object.defineProperty(document, 'hidden', { value: true, configurable: true });
      document.dispatchEvent(new Event('visibilitychange'));
    },
  };
  for (const [word, way] of Object.entries(ways)) {
    const one = await start(() => {
      const media = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
      navigator.mediaDevices.getUserMedia = async (how) => {
        const stream = await media(how);
        [window.track] = stream.getAudioTracks();
        return stream;
      };
      document.getElementById('measure-seconds').value = '3';
    });
    await press(one.page, 'What is needed');
    await press(one.page, 'Level');
    await one.page.focus('#measure-go');
    await one.page.keyboard.press('Enter');
    await one.page.waitForFunction(() => !document.getElementById('measure-stop').hidden, null, { timeout: 10000 });
    await one.page.waitForTimeout(700);
    await one.page.evaluate(way);
    await one.page.waitForFunction(() => !document.getElementById('measure-go').disabled, null, { timeout: 10000 });
    const said = await one.page.evaluate(() => ({ state: window.track.readyState, text: document.getElementById('measure-said').textContent + document.getElementById('measure-findings').textContent, title: document.getElementById('measure-title').textContent }));
    check.that(said.text.includes(word), `${word}: "${said.text}"`);
    check.same(said.state, 'ended', `${word}: the input`);
    check.same(said.title, 'One signal on both inputs', `${word}: the step`);
    await one.context.close();
  }
}
