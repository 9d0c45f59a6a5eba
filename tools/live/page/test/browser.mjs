// A page in headless Chromium, and the program beside it.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';

export const root = resolve(import.meta.dirname, '../../../..');
export const demo = join(root, 'impedance-curves');
export const kinds = ['single-dynamic', 'two-way-armature', 'five-armature', 'planar', 'dynamic-armature-hybrid', 'dynamic-piezo-hybrid'];

/** The program; what it says and how it ended. */
export class Program {
  constructor(program, template) {
    this.program = resolve(program);
    this.template = resolve(template);
    this.folder = mkdtempSync(join(tmpdir(), 'live-page-'));
  }
  run(args, folder = demo) {
    const done = spawnSync(this.program, args, { cwd: folder, encoding: 'utf8', maxBuffer: 2 ** 28 });
    if (done.error) throw done.error;
    return done;
  }
  /** Writes a page and gives its address. */
  page(name, args, folder = demo) {
    const file = join(this.folder, name);
    const done = this.run(['live', ...args, '-o', file, '--force', '--template', this.template], folder);
    if (done.status !== 0) throw new Error(`ohmtilt live ${args.join(' ')}: ${done.stderr}`);
    return pathToFileURL(file).href;
  }
  remove() {
    rmSync(this.folder, { recursive: true, force: true });
  }
}

export async function startBrowser(more = []) {
  const executablePath = ['/usr/bin/chromium', '/usr/bin/chromium-browser'].find(existsSync);
  if (!executablePath) throw new Error('there is no /usr/bin/chromium; install the package chromium');
  return chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu', '--enable-precise-memory-info', ...more] });
}

/** Opens a page and keeps what must not happen: errors, refused scripts or styles, requests, dialogs. */
export async function open(browser, address, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, acceptDownloads: true, ...options });
  const page = await context.newPage();
  const faults = [];
  page.on('pageerror', (error) => faults.push(`error: ${error.message}`));
  // lib/DECISIONS.md says why the page records by a script processor.
  page.on('console', (message) => ['error', 'warning'].includes(message.type()) && !message.text().startsWith('The ScriptProcessorNode is deprecated') && faults.push(`console: ${message.text()}`));
  page.on('dialog', (dialog) => {
    faults.push(`dialog: ${dialog.message()}`);
    void dialog.dismiss();
  });
  page.on('request', (request) => {
    if (!request.url().startsWith('blob:') && request.url().split('#')[0] !== address.split('#')[0]) faults.push(`request: ${request.url()}`);
  });
  await page.addInitScript(() => {
    window.drawn = null;
    document.addEventListener('ohmtilt:drawn', (event) => (window.drawn = event.detail));
    document.addEventListener('ohmtilt:taken', (event) => (window.taken = event.detail));
    document.addEventListener('securitypolicyviolation', (event) => console.error('policy: ' + event.violatedDirective));
  });
  await page.goto(address);
  await page.waitForFunction(() => document.documentElement.dataset.started || document.getElementById('start')?.hidden === false && document.getElementById('state').textContent.includes('cannot'), null, { timeout: 60000 });
  return { page, faults, context };
}

/** Shows a state and gives what is shown: sentence, texts and numbers. */
export async function show(page, words) {
  return page.evaluate((fragment) => {
    window.drawn = null;
    history.replaceState(null, '', fragment);
    window.dispatchEvent(new HashChangeEvent('hashchange'));
    const text = (id) => document.getElementById(id).textContent;
    return {
      trouble: text('trouble'), sentence: text('sentence'), heading: text('answer-heading'), uncertainty: text('uncertainty'),
      facts: text('facts'), csv: window.drawn.csv(), milliseconds: window.drawn.milliseconds,
      cautions: [...document.querySelectorAll('#cautions li')].map((one) => one.textContent),
      warnings: [...document.querySelectorAll('#warnings li')].map((one) => one.textContent),
    };
  }, '#' + new URLSearchParams(words).toString());
}

/** Drops files on the page: what became of them. */
export async function drop(page, files) {
  return page.evaluate(async (all) => {
    const transfer = new DataTransfer();
    for (const { name, base64, size } of all)
      transfer.items.add(new File([size ? new Uint8Array(size) : Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0))], name));
    const done = new Promise((resolve) => document.addEventListener('ohmtilt:taken', (event) => resolve(event.detail), { once: true }));
    window.dispatchEvent(new DragEvent('drop', { dataTransfer: transfer, cancelable: true }));
    const taken = await done;
    return { ...taken, trouble: [...document.querySelectorAll('#trouble p')].map((one) => one.textContent), warnings: [...document.querySelectorAll('#warnings li')].map((one) => one.textContent), sentence: document.getElementById('sentence').textContent };
  }, files);
}

export function columns(csv) {
  const [head, ...rows] = csv.trim().split('\n').map((row) => row.split(','));
  return new Map(head.map((name, i) => [name, rows.map((row) => Number(row[i]))]));
}

/** In the page: moves the slider of the other source and waits for each to be drawn; milliseconds of work and layout. */
export async function moveInPage(moves) {
  const slider = document.querySelector('#to input[type=range]');
  const times = [];
  for (let i = 0; i < moves; ++i) {
    slider.value = String((i * 37) % 400);
    const drawn = new Promise((resolve) => document.addEventListener('ohmtilt:drawn', (event) => {
      const start = performance.now();
      document.body.getBoundingClientRect();
      document.getElementById('response').getBBox();
      resolve(event.detail.milliseconds + performance.now() - start);
    }, { once: true }));
    slider.dispatchEvent(new Event('input', { bubbles: true }));
    times.push(await drawn);
  }
  return times;
}

export function quantile(times, part) {
  return [...times].sort((a, b) => a - b)[Math.floor(part * (times.length - 1))];
}

/** A test counts what it found wrong; all of it is said. */
export class Check {
  failures = [];
  constructor(name) {
    this.name = name;
  }
  that(holds, what) {
    if (!holds) this.failures.push(what);
  }
  same(one, other, what) {
    this.that(one === other, `${what}: "${one}" is not "${other}"`);
  }
}
