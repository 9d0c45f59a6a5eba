// The page: a state, the library's answer to it, and what of it is shown.
import { at, boxed, download, element, list, numberOf, say, tableOf } from './elements';
import { Figure, dark, light, type Drawing, type Line, type Panel } from './figure';
import { Files, type Given } from './given';
import { Refused, type Answer, type Library } from './library';
import type { Measuring } from './measuring';
import { SourceControl } from './source_control';
import { fragmentOf, mostEarphones, mostKept, partsOf, stateOf, type Source, type State } from './state';
import { csvOf, savePng, saveSvg } from './take_away';

/** One line of the figures: an earphone with a source. */
interface Curve {
  label: string;
  answer: Answer;
  /** Which of the answer's sources. */
  number: string;
  series: number;
}

function sameOr(before: Float64Array | undefined, values: Float64Array): Float64Array {
  return before?.length === values.length && before.every((value, i) => Object.is(value, values[i])) ? before : values.slice();
}

const restMilliseconds = 250;
const listed = 8; // from so many earphones on there is a search

export class Page {
  private state: State;
  private readonly files: Files;
  private readonly from: SourceControl;
  private readonly to: SourceControl;
  private readonly response = new Figure(at<SVGSVGElement>('response'));
  private readonly damping = new Figure(at<SVGSVGElement>('damping'));
  private curves: Curve[] = [];
  private drawing: Drawing | null = null;
  private dampingAnswer: Answer | null = null;
  private waiting = 0;
  private width = 0;
  private rest = 0;
  private largest = { key: '', text: '' };
  private troubles: string[] = [];
  private readonly darkness = matchMedia('(prefers-color-scheme: dark)');
  private readonly printing = matchMedia('print');

  constructor(private readonly library: Library, page: Given) {
    this.files = new Files(library, page);
    this.usual = page.start;
    this.state = stateOf(location.hash, page.start);
    const choices = {
      files: this.files.sources,
      stages: (name: string) => {
        const rows = library.ask('source', [['from', 'file ' + name]]).rows.get('values') ?? [];
        return rows.map(([stage, key, ohm, label]) => ({ stage: Number(stage), key: key!, ohm: Number(ohm), label: label! }));
      },
    };
    this.from = new SourceControl(at('from'), 'from', { ...choices, withPad: false, changed: (from) => this.change({ from }) });
    this.to = new SourceControl(at('to'), 'to', { ...choices, withPad: true, changed: (to) => this.change({ to }) });
    this.width = this.figureWidth();
    this.listen();
    this.showState();
    this.refresh();
  }

  private readonly usual: State;
  /** Takes the recordings that are dropped on the page. */
  measuring: Measuring | null = null;
  /** The arrays of the last answer of each earphone: one that did not change is the same one, and not drawn again. */
  private readonly numbersBefore = new Map<string, Map<string, Float64Array>>();

  // ---- the state ----------------------------------------------------------------------------------

  private change(part: Partial<State>): void {
    this.state = { ...this.state, ...part };
    if (this.waiting === 0) this.waiting = requestAnimationFrame(() => this.refresh());
  }

  /** Controls as the state has them. */
  private showState(): void {
    this.from.show(this.state.from);
    this.to.show(this.state.to);
    const anchor = at<HTMLInputElement>('anchor');
    const free = this.state.anchor === 'none';
    at<HTMLInputElement>('unanchored').checked = free;
    anchor.disabled = free;
    if (!free) anchor.value = this.state.anchor;
    at<HTMLInputElement>('limit').value = this.state.limit;
    this.listEarphones();
  }

  private listEarphones(): void {
    const all = this.files.earphones;
    at('search').closest('label')!.hidden = all.length <= listed;
    const sought = at<HTMLInputElement>('search').value.trim().toLowerCase();
    const shown = all.filter((one) => one.title.toLowerCase().includes(sought) || one.name.toLowerCase().includes(sought));
    const rows = shown.map((one) => {
      const chosen = this.state.earphones[0] === one.name;
      const radio = element('input', { type: 'radio', name: 'earphone', value: one.name });
      radio.checked = chosen;
      radio.addEventListener('change', () => this.chooseEarphone(one.name));
      const also = element('input', { type: 'checkbox', value: one.name, 'aria-label': `show ${one.title} too` });
      also.checked = this.state.earphones.includes(one.name) && !chosen;
      also.disabled = chosen;
      also.addEventListener('change', () => this.showToo(one.name, also.checked));
      return element('div', { class: 'one' }, element('label', {}, radio, element('span', {}, one.title)), element('label', { class: 'also' }, also, 'too'));
    });
    at('earphones').replaceChildren(...rows, ...(rows.length === 0 ? [element('p', { class: 'quiet' }, all.length === 0 ? 'None yet: open a file of your own.' : 'No earphone has that in its name.')] : []));
  }

  private chooseEarphone(name: string): void {
    this.change({ earphones: [name, ...this.state.earphones.slice(1).filter((one) => one !== name)] });
    for (const box of at('earphones').querySelectorAll<HTMLInputElement>('input[type=checkbox]')) {
      box.disabled = box.value === name;
      box.checked = this.state.earphones.includes(box.value) && box.value !== name;
    }
  }

  private showToo(name: string, shown: boolean): void {
    const others = this.state.earphones.filter((one) => one !== name);
    this.change({ earphones: shown ? [...others, name].slice(0, mostEarphones) : others });
  }

  // ---- what happens -------------------------------------------------------------------------------

  private listen(): void {
    at('question').addEventListener('submit', (event) => event.preventDefault());
    at('search').addEventListener('input', () => this.listEarphones());
    at('keep').addEventListener('click', () => this.keep());
    at('anchor').addEventListener('change', () => this.change({ anchor: at<HTMLInputElement>('anchor').value || '1000' }));
    at('unanchored').addEventListener('change', () => this.free(at<HTMLInputElement>('unanchored').checked));
    at('limit').addEventListener('change', () => this.change({ limit: at<HTMLInputElement>('limit').value || '1' }));
    at('cursor').addEventListener('input', () => this.drawFigures());
    at('svg').addEventListener('click', () => this.drawing && saveSvg(this.drawingToTake(), 'deviation'));
    at('png').addEventListener('click', () => void this.takePng());
    at('csv').addEventListener('click', () => download('deviation.csv', this.csv(), 'text/csv'));
    at('text').addEventListener('click', () => void this.takeText());
    at('link').addEventListener('click', () => this.takeLink());
    addEventListener('hashchange', () => this.restore());
    new ResizeObserver(() => this.fitWidth()).observe(at('answers'));
    this.darkness.addEventListener('change', () => this.drawFigures());
    this.printing.addEventListener('change', () => this.drawFigures());
    this.listenToPointer();
    this.listenToFiles();
  }

  /** Only another width asks for other figures; it is not asked for at every move, which would cost a layout. */
  private fitWidth(): void {
    const width = this.figureWidth();
    if (width === this.width) return;
    this.width = width;
    this.drawFigures();
  }

  /** What a figure has between its borders; never less than can be drawn on. */
  private figureWidth(): number {
    return Math.max(240, Math.floor(at('response').parentElement!.clientWidth));
  }

  private free(unanchored: boolean): void {
    at<HTMLInputElement>('anchor').disabled = unanchored;
    this.change({ anchor: unanchored ? 'none' : at<HTMLInputElement>('anchor').value || '1000' });
  }

  private keep(): void {
    if (this.state.kept.includes(this.state.to)) return;
    this.change({ kept: [...this.state.kept, this.state.to].slice(-mostKept) });
  }

  /** A move reads; a press near the anchor takes it along. */
  private listenToPointer(): void {
    const svg = at<SVGSVGElement>('response');
    let dragging = false;
    const hzOf = (event: PointerEvent) => {
      const box = svg.getBoundingClientRect();
      return this.response.valueAt(((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width);
    };
    svg.addEventListener('pointerdown', (event) => {
      const anchor = Number(this.state.anchor);
      dragging = Math.abs(Math.log(hzOf(event) / anchor)) < 0.12;
      if (dragging) svg.setPointerCapture(event.pointerId);
    });
    svg.addEventListener('pointermove', (event) => {
      const hz = hzOf(event);
      if (dragging) this.dragAnchor(hz);
      else this.read(hz);
    });
    for (const end of ['pointerup', 'pointercancel']) svg.addEventListener(end, () => (dragging = false));
  }

  private dragAnchor(hz: number): void {
    const all = this.curves[0]?.answer.numbers.get('hz');
    if (!all) return;
    const within = Math.min(Math.max(hz, all[0]!), all[all.length - 1]!);
    const anchor = String(Number(within.toPrecision(3)));
    at<HTMLInputElement>('anchor').value = anchor;
    this.change({ anchor });
  }

  private read(hz: number): void {
    const all = this.curves[0]?.answer.numbers.get('hz');
    if (!all) return;
    const nearest = Math.round(((all.length - 1) * Math.log(hz / all[0]!)) / Math.log(all[all.length - 1]! / all[0]!));
    at<HTMLInputElement>('cursor').value = String(Math.min(all.length - 1, Math.max(0, nearest)));
    this.drawFigures();
  }

  private listenToFiles(): void {
    const own = at<HTMLInputElement>('own');
    own.addEventListener('change', () => {
      void this.take([...(own.files ?? [])]);
      own.value = '';
    });
    const root = document.documentElement;
    addEventListener('dragover', (event) => {
      event.preventDefault();
      root.classList.add('dropping');
    });
    addEventListener('dragleave', () => root.classList.remove('dropping'));
    addEventListener('drop', (event) => {
      event.preventDefault();
      root.classList.remove('dropping');
      void this.take([...(event.dataTransfer?.files ?? [])]);
    });
  }

  /** Files of the reader's own: the first that opens is shown. */
  async take(all: File[]): Promise<string[]> {
    if (all.length === 0) return [];
    const sounds = all.filter((file) => /\.wav$/i.test(file.name));
    if (sounds.length === all.length) {
      const troubles = (await this.measuring?.drop(sounds)) ?? [];
      if (troubles.length > 0) {
        this.troubles = troubles;
        this.showTroubles([]);
      }
      return [];
    }
    const taken = await this.files.take(all.filter((file) => !sounds.includes(file)));
    this.numbersBefore.clear();
    this.troubles = taken.refused;
    this.largest.key = '';
    this.from.refresh();
    this.to.refresh();
    if (taken.opened.length > 0) this.state = { ...this.state, earphones: [taken.opened[0]!] };
    if (taken.sources.length > 0) this.state = { ...this.state, to: 'file ' + taken.sources[0]! };
    this.showState();
    this.refresh();
    document.dispatchEvent(new CustomEvent('ohmtilt:taken', { detail: taken }));
    return taken.opened;
  }

  private restore(): void {
    if (location.hash !== '' && !location.hash.includes('=')) return; // a place on the page
    this.state = stateOf(location.hash, this.usual);
    this.troubles = [];
    this.showState();
    this.refresh();
  }

  // ---- the answer ---------------------------------------------------------------------------------

  private compare(earphone: string, to: readonly Source[], withLimit: boolean): Answer {
    const request: [string, string][] = [['earphone', earphone], ['from', this.state.from], ...to.map((one) => ['to', one] as [string, string]), ['anchor', this.state.anchor]];
    if (withLimit) request.push(['limit', this.state.limit]);
    const answer = this.library.ask('compare', request);
    const before = this.numbersBefore.get(earphone);
    const numbers = new Map([...answer.numbers].map(([name, values]) => [name, sameOr(before?.get(name), values)]));
    this.numbersBefore.set(earphone, numbers);
    return { ...answer, numbers };
  }

  /** Everything anew: what a move of a slider costs. */
  private refresh(): void {
    this.waiting = 0;
    const start = performance.now();
    try {
      this.ask();
      this.showTroubles([]);
      this.showAnswer();
      this.drawFigures();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.showTroubles([error.message]);
    }
    clearTimeout(this.rest);
    this.rest = setTimeout(() => this.atRest(), restMilliseconds);
    document.dispatchEvent(new CustomEvent('ohmtilt:drawn', { detail: { milliseconds: performance.now() - start, csv: () => this.csv(), memory: this.library.memorySize } }));
  }

  private ask(): void {
    const [main, ...others] = this.state.earphones;
    if (main === undefined) throw new Refused('there is no earphone in this page yet; open a file of your own');
    const missing = this.state.earphones.find((name) => !this.files.earphones.some((one) => one.name === name));
    if (missing !== undefined) throw new Refused(`${missing} is not in this page; open it as a file of your own`);
    const to = [this.state.to, ...this.state.kept.filter((one) => one !== this.state.to)];
    const key = JSON.stringify([main, this.state.from, this.state.limit, this.state.anchor]);
    const answer = this.compare(main, to, key !== this.largest.key);
    const largest = answer.texts.get('largest');
    if (largest !== undefined) this.largest = { key, text: largest };
    const label = (number: string) => answer.texts.get('short' + number) || answer.texts.get('label' + number)!;
    const curves = to.map((_, i): Curve => ({ label: label(String(i)), answer, number: String(i), series: i }));
    others.forEach((name, i) => {
      const other = this.compare(name, [this.state.to], false);
      curves.push({ label: `${label('0')}, ${other.texts.get('title')}`, answer: other, number: '0', series: to.length + i });
    });
    if (others.length > 0) curves[0]!.label += `, ${answer.texts.get('title')}`;
    this.curves = curves;
  }

  private showTroubles(more: string[]): void {
    const all = [...this.troubles, ...more];
    const trouble = at('trouble');
    if (trouble.textContent !== all.join('')) trouble.replaceChildren(...all.map((text) => element('p', {}, text)));
  }

  private showAnswer(): void {
    const { answer } = this.curves[0]!;
    const text = (name: string) => answer.texts.get(name) ?? '';
    say(at('answer-heading'), `${text('title')}: ${text('label0')} instead of ${text('from')}`);
    say(at('sentence'), text('conclusion0'));
    say(at('uncertainty'), text('uncertainty0'));
    this.showFacts(text);
    this.showOthers();
    const cautions = at('cautions');
    const said = answer.lines.get('cautions') ?? [];
    if (cautions.textContent !== said.join('')) cautions.replaceChildren(...list(said));
    cautions.hidden = said.length === 0;
    const warnings = answer.lines.get('warnings') ?? [];
    if (at('warnings').textContent !== warnings.join('')) at('warnings').replaceChildren(...list(warnings));
    at('warnings-section').hidden = warnings.length === 0;
    const measured = answer.texts.get('anchor');
    say(at('figure-note'), `${text('about')}; both responses ${measured}. Drag the dotted line to normalise elsewhere.`);
  }

  private showFacts(text: (name: string) => string): void {
    const facts: [string, string, string][] = [
      ['Span', text('span0'), text('verdict0')],
      ['Level change', text('level0'), this.state.anchor === 'none' ? 'is in the deviation' : ''],
      [`Limit of ${this.state.limit} dB`, '', this.largest.text],
    ];
    const box = at('facts');
    if (box.childElementCount === 0)
      for (let i = 0; i < facts.length; ++i) box.append(element('dt', {}), element('dd', i === 0 ? { class: 'span' } : {}, element('span', {}), ' ', element('small', {})));
    facts.forEach(([name, value, remark], i) => {
      say(box.children[2 * i]!, name);
      const [first, second] = box.children[2 * i + 1]!.children;
      say(first!, value);
      say(second!, remark);
    });
  }

  /** The kept sources and the other earphones, a row each. */
  private showOthers(): void {
    const box = at('others');
    box.hidden = this.curves.length < 2;
    if (box.hidden) return;
    const kept = this.state.kept.filter((one) => one !== this.state.to);
    const removable = this.curves.map((one, i) => (i > 0 && one.answer === this.curves[0]!.answer ? kept[i - 1] : undefined));
    const key = removable.join('|');
    if (box.dataset['key'] !== key) {
      box.dataset['key'] = key;
      const head = element('thead', {}, element('tr', {}, ...['', 'span', 'verdict', 'level change', ''].map((name) => element(name === '' ? 'td' : 'th', name === '' ? {} : { scope: 'col' }, name))));
      const body = removable.map((source) => element('tr', {}, element('th', { scope: 'row' }), element('td', {}), element('td', {}), element('td', {}), element('td', {}, ...this.remover(source))));
      box.replaceChildren(boxed(element('table', {}, element('caption', {}, 'Side by side'), head, element('tbody', {}, ...body))));
    }
    const rows = box.querySelectorAll('tbody tr');
    this.curves.forEach((one, i) => {
      const cells = rows[i]!.children;
      say(cells[0]!, one.label);
      ['span', 'verdict', 'level'].forEach((name, k) => say(cells[k + 1]!, one.answer.texts.get(name + one.number)!));
      cells[4]!.firstElementChild?.setAttribute('aria-label', `remove ${one.label}`);
    });
  }

  private remover(source: Source | undefined): Node[] {
    if (source === undefined) return [];
    const button = element('button', { type: 'button', class: 'remove' }, 'remove');
    button.addEventListener('click', () => this.change({ kept: this.state.kept.filter((one) => one !== source) }));
    return [button];
  }

  // ---- the figures --------------------------------------------------------------------------------

  private palette() {
    return this.darkness.matches && !this.printing.matches ? dark : light;
  }

  private drawFigures(): void {
    const first = this.curves[0];
    if (!first) return;
    this.drawing = this.drawingOf(first.answer);
    const width = this.width;
    this.response.draw(this.drawing, width, this.palette());
    this.nameFigure(first.answer);
    this.drawDamping(width);
    this.showReadout();
  }

  /** What it shows, for who does not see it. */
  private nameFigure(answer: Answer): void {
    const name = `Over frequency: deviation, impedance and phase. ${answer.texts.get('title')}: ${answer.texts.get('headline')}`;
    const svg = at('response');
    if (svg.getAttribute('aria-label') !== name) svg.setAttribute('aria-label', name);
  }

  private line(curve: Curve, values: string, label = ''): Line {
    const { numbers } = curve.answer;
    const limits = values === 'deviation_db';
    return {
      label, series: curve.series, x: numbers.get('hz')!, y: numbers.get(values)!,
      lower: limits ? numbers.get('lower_db' + curve.number) : undefined,
      upper: limits ? numbers.get('upper_db' + curve.number) : undefined,
    };
  }

  private drawingOf(answer: Answer): Drawing {
    const hz = answer.numbers.get('hz')!;
    const named = this.curves.length > 1;
    const panels: Panel[] = [{
      heading: 'Deviation, dB', kind: 'linear', share: 1.25, least: [0, 0], leastRange: 1, zero: true,
      lines: this.curves.map((one) => ({ ...this.line(one, 'deviation_db'), y: one.answer.numbers.get('deviation_db' + one.number)!, label: named ? one.label : '' })),
    }];
    if (panels[0]!.lines.some((one) => one.lower)) panels[0]!.remark = 'light: what the curve leaves open';
    const before = answer.numbers.get('before_db');
    if (before) panels.push({ heading: 'Response, dB', kind: 'linear', share: 1, least: null, leastRange: 10, lines: this.responses(before) });
    const kinds: [string, string, number][] = [['ohm', 'Impedance |Z|, ohm', 0.8], ['phase_deg', 'Phase, degrees', 0.55]];
    for (const [values, heading, share] of kinds) {
      const earphones = this.curves.filter((one, i) => i === 0 || one.answer !== answer);
      panels.push({ heading, kind: values === 'ohm' ? 'log' : 'linear', share, least: null, leastRange: 20, zero: values !== 'ohm', lines: earphones.map((one, i) => ({ ...this.line(one, values), series: i === 0 ? -1 : one.series, label: '' })) });
    }
    const anchor = Number(this.state.anchor);
    const at_ = this.cursorHz();
    return {
      xLabel: 'frequency, Hz', xRange: [hz[0]!, hz[hz.length - 1]!], panels,
      uprights: [
        ...(anchor > 0 ? [{ x: anchor, label: 'normalised', kind: 'anchor' as const }] : []),
        ...(at_ > 0 ? [{ x: at_, label: '', kind: 'cursor' as const }] : []),
      ],
    };
  }

  private responses(before: Float64Array): Line[] {
    const { answer } = this.curves[0]!;
    const own = this.curves.filter((one) => one.answer === answer);
    return [
      { label: answer.texts.get('from')!, series: -1, x: answer.numbers.get('hz')!, y: before },
      ...own.map((one) => this.line(one, 'response_db' + one.number, answer.texts.get('short' + one.number) || answer.texts.get('label' + one.number)!)),
    ];
  }

  private cursorHz(): number {
    const hz = this.curves[0]!.answer.numbers.get('hz')!;
    return hz[Math.min(Number(at<HTMLInputElement>('cursor').value), hz.length - 1)] ?? 0;
  }

  private showReadout(): void {
    const hz = this.cursorHz();
    const index = Number(at<HTMLInputElement>('cursor').value);
    const name = hz >= 1000 ? `${Number((hz / 1000).toPrecision(3))} kHz` : `${Number(hz.toPrecision(3))} Hz`;
    say(at('cursor-hz'), name);
    at('cursor').setAttribute('aria-valuetext', name);
    const { answer } = this.curves[0]!;
    const value = (of: Answer, values: string, digits: number, unit: string) => {
      const found = of.numbers.get(values)?.[index];
      return found === undefined || !Number.isFinite(found) ? '–' : `${found.toFixed(digits).replace(/^-(?=[0.]*$)/, '').replace('-', '−')} ${unit}`;
    };
    const said = this.curves.map((one) => `${this.curves.length > 1 ? one.label + ': ' : 'deviation '}${value(one.answer, 'deviation_db' + one.number, 2, 'dB')}`);
    said.push(`|Z| ${value(answer, 'ohm', 2, 'ohm')}`, `phase ${value(answer, 'phase_deg', 1, 'degrees')}`);
    if (answer.numbers.has('before_db')) said.push(`response ${value(answer, 'before_db', 1, 'dB')} → ${value(answer, 'response_db0', 1, 'dB')}`);
    say(at('readout'), said.join('; '));
  }

  private drawDamping(width: number): void {
    const answer = this.dampingAnswer;
    const ohm = answer?.numbers.get('source_ohm');
    at('damping').closest('figure')!.hidden = !ohm || (answer!.lines.get('modes') ?? []).length === 0;
    if (!answer || !ohm) return;
    const { numbers, texts } = this.curves[0]!.answer;
    const lines = answer.lines.get('modes')!.map((label, i): Line => ({ label, series: i, x: ohm, y: answer.numbers.get('q' + i)! }));
    const sources: [number, string][] = [[numbers.get('from_ohm')![0]!, texts.get('from')!], ...this.curves.filter((one) => one.answer === this.curves[0]!.answer).map((one): [number, string] => [numbers.get('figures' + one.number)![8]!, texts.get('short' + one.number) || texts.get('label' + one.number)!])];
    this.damping.draw({
      xLabel: 'resistance of the source, ohm', xRange: [ohm[0]!, ohm[ohm.length - 1]!],
      panels: [{ heading: 'Q of each resonance', kind: 'log', share: 1.2, least: null, leastRange: 0, lines, names: sources.length }],
      uprights: sources.map(([x, label]) => ({ x: Math.max(x, ohm[0]!), label: label.slice(0, 28), kind: 'source' as const })),
    }, width, this.palette());
  }

  // ---- what is not worked out at every move -------------------------------------------------------

  private atRest(): void {
    const first = this.curves[0];
    if (!first) return;
    say(at('said'), `${first.answer.texts.get('conclusion0')}`);
    at('rows').replaceChildren(boxed(tableOf(first.answer.rows.get('rows0') ?? [], `${first.answer.texts.get('label0')} instead of ${first.answer.texts.get('from')}`, false)));
    const request: [string, string][] = [['earphone', this.state.earphones[0]!], ['from', this.state.from], ['to', this.state.to]];
    this.askDamping(request);
    this.askLevels(request);
    document.dispatchEvent(new CustomEvent('ohmtilt:rest'));
  }

  private askDamping(request: [string, string][]): void {
    this.dampingAnswer = null;
    try {
      const answer = this.library.ask('damping', request);
      this.dampingAnswer = { ...answer, numbers: new Map([...answer.numbers].map(([name, values]) => [name, values.slice()])) };
      say(at('damping-sentence'), answer.texts.get('conclusion') || ((answer.lines.get('modes') ?? []).length > 0 ? 'Both sources damp the resonances alike.' : 'No resonance in this range has a Q.'));
      at('damping-rows').replaceChildren(boxed(tableOf(answer.rows.get('rows') ?? [], 'Q of each resonance', true)));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      say(at('damping-sentence'), error.message);
      at('damping-rows').replaceChildren();
    }
    this.drawDamping(this.width);
  }

  private askLevels(request: [string, string][]): void {
    const box = at('levels');
    const plain = [this.state.from, this.state.to].every((one) => partsOf(one).kind === 'ohm' && Number.isFinite(numberOf(one)));
    if (plain) {
      box.replaceChildren(element('p', { class: 'quiet' }, 'A plain resistance says nothing of voltage and noise: choose a chain that states them.'));
      return;
    }
    const answer = this.library.ask('levels', request);
    const parts: Node[] = [];
    const cautions = answer.lines.get('cautions') ?? [];
    if (cautions.length > 0) parts.push(element('ul', { class: 'cautions' }, ...list(cautions)));
    for (const name of ['headroom', 'hiss']) {
      for (const said of answer.lines.get(name) ?? []) parts.push(element('p', {}, said));
      const gap = answer.texts.get(name + '_gap');
      if (gap) parts.push(element('p', { class: 'quiet' }, `${name === 'hiss' ? 'Hiss' : 'Loudness'}: ${gap}.`));
    }
    const tables: [string, string, boolean][] = [['headroom_rows', 'What the target asks for', false], ['gain_rows', 'The volume control at the target, and the imbalance there', true], ['hiss_rows', 'Where the noise comes from', false]];
    for (const [name, caption, headings] of tables) {
      const rows = answer.rows.get(name);
      if (rows) parts.push(boxed(tableOf(rows, caption, headings)));
    }
    for (const note of answer.lines.get('gain_notes') ?? []) parts.push(element('p', { class: 'quiet' }, note));
    box.replaceChildren(...parts);
  }

  // ---- what is taken away ---------------------------------------------------------------------------

  private drawingToTake(): Drawing {
    const { texts } = this.curves[0]!.answer;
    const drawing = this.drawing!;
    const panels = drawing.panels.map((panel, i) => (i === 0 ? { ...panel, lines: panel.lines.map((one, k) => ({ ...one, label: this.curves[k]!.label })) } : panel));
    return {
      ...drawing, panels, uprights: drawing.uprights.filter((one) => one.kind !== 'cursor'), title: texts.get('headline')!, subtitle: texts.get('title')!,
      caption: `Deviation from ${texts.get('from')}; both responses ${texts.get('anchor')}.${this.curves.length > 1 ? '' : ' ' + texts.get('conclusion0')}`,
    };
  }

  private async takePng(): Promise<void> {
    try {
      await savePng(this.drawingToTake(), 'deviation');
    } catch (error) {
      say(at('taken'), (error as Error).message);
    }
  }

  /** Named as the columns of `deviation --csv` where there is one earphone. */
  private csv(): string {
    const first = this.curves[0]!;
    const columns: [string, Float64Array][] = [['frequency_hz', first.answer.numbers.get('hz')!]];
    const before = first.answer.numbers.get('before_db');
    if (before) columns.push(['response_before_db', before]);
    this.curves.forEach((one, i) => {
      const { numbers } = one.answer;
      const same = numbers.get('hz')!.every((hz, k) => hz === columns[0]![1][k]);
      if (!same) return; // on its own frequencies: take it by itself
      columns.push([`deviation_db_${i + 1}`, numbers.get('deviation_db' + one.number)!]);
      const after = numbers.get('response_db' + one.number);
      if (after && one.answer === first.answer) columns.push([`response_db_${i + 1}`, after]);
    });
    columns.push(['magnitude_ohm', first.answer.numbers.get('ohm')!], ['phase_deg', first.answer.numbers.get('phase_deg')!]);
    return csvOf(columns);
  }

  private async takeText(): Promise<void> {
    const text = `${at('answer-heading').textContent}. ${at('sentence').textContent}`;
    try {
      await navigator.clipboard.writeText(text);
      say(at('taken'), 'The sentence is on the clipboard.');
    } catch {
      this.offer(text);
    }
  }

  private takeLink(): void {
    history.replaceState(null, '', fragmentOf(this.state));
    this.offer(location.href);
  }

  /** Where a page may not write to the clipboard, the words stand there to be copied. */
  private offer(text: string): void {
    at('address-line').hidden = false;
    const field = at<HTMLInputElement>('address');
    field.value = text;
    field.focus();
    field.select();
    say(at('taken'), 'Copy what is marked.');
  }
}
