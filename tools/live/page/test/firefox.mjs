// The page in headless Firefox, driven by its own Marionette protocol: lengths and JSON over a socket.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { columns, demo, kinds, moveInPage, quantile } from './browser.mjs';

export class Firefox {
  static async start(program, prefs = {}) {
    const made = new Firefox();
    made.profile = mkdtempSync(join(tmpdir(), 'live-page-firefox-'));
    const all = { 'marionette.port': 0, 'browser.shell.checkDefaultBrowser': false, 'datareporting.policy.dataSubmissionEnabled': false, 'app.update.auto': false, 'browser.startup.page': 0, 'network.captive-portal-service.enabled': false, ...prefs };
    writeFileSync(join(made.profile, 'user.js'), Object.entries(all).map(([key, value]) => `user_pref(${JSON.stringify(key)}, ${JSON.stringify(value)});\n`).join(''));
    made.process = spawn(program, ['--headless', '--marionette', '--no-remote', '--profile', made.profile], { stdio: 'ignore', env: { ...process.env, HOME: made.profile } });
    await made.connect();
    await made.ask('WebDriver:NewSession', { capabilities: { alwaysMatch: { pageLoadStrategy: 'normal' } } });
    await made.ask('WebDriver:SetTimeouts', { script: 120000, pageLoad: 120000 });
    return made;
  }

  async connect() {
    const file = join(this.profile, 'MarionetteActivePort');
    for (let i = 0; i < 300 && !existsSync(file); ++i) await wait(200);
    this.socket = connect(Number(readFileSync(file, 'utf8')), '127.0.0.1');
    this.waiting = new Map();
    this.last = 0;
    let received = Buffer.alloc(0);
    const greeted = new Promise((resolve) => (this.greeted = resolve));
    this.socket.on('data', (data) => {
      received = Buffer.concat([received, data]);
      for (;;) {
        const mark = received.indexOf(':');
        const size = Number(received.subarray(0, mark));
        if (mark < 0 || received.length < mark + 1 + size) return;
        this.answer(JSON.parse(received.subarray(mark + 1, mark + 1 + size)));
        received = received.subarray(mark + 1 + size);
      }
    });
    await greeted;
  }

  answer(message) {
    if (!Array.isArray(message)) return this.greeted();
    const [, id, error, result] = message;
    const { resolve, reject } = this.waiting.get(id);
    this.waiting.delete(id);
    if (error) reject(new Error(`${error.error}: ${error.message}`));
    else resolve(result);
  }

  ask(name, parameters = {}) {
    const text = JSON.stringify([0, ++this.last, name, parameters]);
    this.socket.write(`${Buffer.byteLength(text)}:${text}`);
    return new Promise((resolve, reject) => this.waiting.set(this.last, { resolve, reject }));
  }

  /** The result of a function's body in the page; "done" is its way back. */
  async run(body, ...given) {
    return (await this.ask('WebDriver:ExecuteAsyncScript', { script: `const done = arguments[arguments.length - 1]; ${body}`, args: given, newSandbox: true })).value;
  }

  async open(address) {
    await this.ask('WebDriver:Navigate', { url: 'about:blank' });
    await this.ask('WebDriver:Navigate', { url: address });
    return this.run(`const look = () => document.documentElement.dataset.started ? done(Number(document.documentElement.dataset.started)) : setTimeout(look, 20); look();`);
  }

  async close() {
    const ended = new Promise((resolve) => this.process.once('exit', resolve));
    await this.ask('Marionette:Quit', {}).catch(() => {});
    await ended;
    rmSync(this.profile, { recursive: true, force: true });
  }
}

const shown = `
  const once = new Promise((resolve) => document.addEventListener('ohmtilt:drawn', (event) => resolve(event.detail.csv()), { once: true }));
  location.hash = arguments[0];
  once.then((csv) => done({ csv, sentence: document.getElementById('sentence').textContent, trouble: document.getElementById('trouble').textContent }));`;

export async function firefox({ native, check }) {
  const program = ['/usr/bin/firefox-esr', '/usr/bin/firefox'].find(existsSync);
  if (!program) return 'left out: there is no firefox-esr';
  const version = spawnSync(program, ['--version'], { encoding: 'utf8' }).stdout.trim();
  const names = kinds.map((kind) => `${kind}.earphone.toml`);
  const address = native.page('firefox.html', ['attenuator-engaged.chain.toml', ...names]);
  const browser = await Firefox.start(program);
  const pictures = process.env.OHMTILT_LIVE_PICTURES;
  let worst = 0;
  let told = '';
  try {
    const first = await browser.open(address);
    for (const name of names)
      for (const to of ['0', '2.2', '47', 'attenuator-engaged.chain.toml']) {
        const csv = join(native.folder, 'firefox.csv');
        const done = native.run(['deviation', name, '--from', '0.3', '--to', to, '--csv', csv, '--force'], demo);
        const found = await browser.run(shown, String(new URLSearchParams({ earphone: name, from: '0.3', to: to.endsWith('.toml') ? `file ${to}` : to })));
        const wanted = columns(readFileSync(csv, 'utf8')).get('deviation_db_1');
        const values = columns(found.csv).get('deviation_db_1');
        const difference = wanted.reduce((most, value, i) => Math.max(most, Math.abs(value - values[i])), 0);
        worst = Math.max(worst, difference);
        check.that(difference <= 1e-10, `${name} at ${to}: differs by ${difference} dB`);
        check.that(done.stdout.split('\n').includes(found.sentence), `${name} at ${to}: the program does not say "${found.sentence}"`);
        check.same(found.trouble, '', `${name} at ${to}`);
      }
    await browser.run(shown, names.slice(0, 5).map((name) => 'earphone=' + name).join('&'));
    const times = await browser.run(`(${moveInPage})(arguments[0]).then(done);`, 150);
    for (const width of [450, 640, 1280]) { // Firefox's windows are no narrower
      await browser.ask('WebDriver:SetWindowRect', { width, height: 900 });
      const wide = await browser.run('setTimeout(() => done(document.documentElement.scrollWidth - document.documentElement.clientWidth), 300)');
      check.that(wide <= 0, `${width} px: the page is ${wide} px too wide`);
      if (!pictures) continue;
      const { value } = await browser.ask('WebDriver:TakeScreenshot', { full: true });
      writeFileSync(join(pictures, `firefox-${width}.png`), Buffer.from(value, 'base64'));
    }
    told = `${version}: at most ${worst.toExponential(1)} dB apart, a move with five earphones ${quantile(times, 0.5).toFixed(1)} ms (99 % ${quantile(times, 0.99).toFixed(1)} ms), first figure after ${first} ms`;
  } finally {
    await browser.close();
  }
  return told;
}
