// The controls of one source: a resistance, a chain with its values and switches, or an L pad.
import { element, hasFocus, numberOf } from './elements';
import { lastStep, ohmOfStep, partsOf, sourceOf, stepOfOhm, type Source, type SourceParts, type Stage } from './state';

export interface SourceChoices {
  /** Chains and curves by file name. */
  files: { name: string; title: string }[];
  /** Of a chain's file; may throw. */
  stages(name: string): Stage[];
  withPad: boolean;
  changed(source: Source): void;
}

const pads = { least: 0.5, most: 40 };

export class SourceControl {
  private source: Source = '';
  private readonly kind: HTMLSelectElement;
  private readonly values = element('div', {});
  private shape = '';
  private following: (() => void)[] = [];

  constructor(root: HTMLElement, private readonly id: string, private readonly choices: SourceChoices) {
    this.kind = element('select', { id: `${id}-kind`, 'aria-label': 'Kind of source' });
    root.append(this.kind, this.values);
    this.kind.addEventListener('change', () => this.choose());
    this.refresh();
  }

  /** Shows it, without telling that it changed. */
  show(source: Source): void {
    this.source = source;
    this.draw();
  }

  /** After files came in. */
  refresh(): void {
    const options = [new Option('a resistance', 'ohm')];
    for (const file of this.choices.files) options.push(new Option(file.title, 'file ' + file.name));
    if (this.choices.withPad) options.push(new Option('an L pad behind the source now', 'pad'));
    this.kind.replaceChildren(...options);
    this.shape = '';
    if (this.source !== '') this.draw();
  }

  private choose(): void {
    const kind = this.kind.value;
    this.set(kind === 'ohm' ? '6' : kind === 'pad' ? 'pad 10 32' : kind);
  }

  private set(source: Source): void {
    this.source = source;
    this.draw();
    this.choices.changed(source);
  }

  /** The nodes stay while the kind does: a slider that is held is not replaced. */
  private draw(): void {
    const parts = partsOf(this.source);
    const kind = parts.kind === 'file' ? 'file ' + parts.name : parts.kind;
    this.kind.value = kind;
    if (kind !== this.shape) {
      this.shape = kind;
      this.following = [];
      this.values.replaceChildren(...this.build(parts));
    }
    for (const follow of this.following) follow();
  }

  private build(parts: SourceParts): Node[] {
    if (parts.kind === 'ohm') return [this.resistance()];
    if (parts.kind === 'pad') return this.pad();
    return this.chain(parts.name);
  }

  private resistance(): Node {
    return this.slider('output impedance, ohm', [0, lastStep], (source) => source, (value) => value, stepOfOhm, ohmOfStep);
  }

  private pad(): Node[] {
    const field = (key: 'db' | 'ohm') => (source: Source) => (partsOf(source) as { db: string; ohm: string })[key];
    const with_ = (key: 'db' | 'ohm') => (value: string) => sourceOf({ ...(partsOf(this.source) as { kind: 'pad'; db: string; ohm: string }), [key]: value });
    return [
      this.slider('attenuation, dB', [pads.least * 2, pads.most * 2], field('db'), with_('db'), (db) => Math.round(db * 2), (step) => String(step / 2)),
      this.slider('made for, and loading the amplifier with, ohm', [1, lastStep], field('ohm'), with_('ohm'), stepOfOhm, ohmOfStep),
    ];
  }

  private chain(name: string): Node[] {
    let stages: Stage[] = [];
    try {
      stages = this.choices.stages(name);
    } catch {
      return []; // the comparison says why
    }
    const changes = () => (partsOf(this.source) as { changes: Map<string, string> }).changes;
    const change = (key: string, value: string | null) => {
      const all = new Map(changes());
      if (value === null) all.delete(key);
      else all.set(key, value);
      return sourceOf({ kind: 'file', name, changes: all });
    };
    return stages.map((one) => {
      if (one.key === '') {
        const key = String(one.stage);
        return this.switch(`${one.label}: in the way`, () => changes().get(key) !== 'off', (on) => change(key, on ? null : 'off'));
      }
      const key = `${one.stage}.${one.key}`;
      return this.slider(`${one.key.replaceAll('_', ' ')}`, [0, lastStep], () => changes().get(key) ?? String(one.ohm), (value) => change(key, Number(value) === one.ohm ? null : value), stepOfOhm, ohmOfStep);
    });
  }

  private switch(name: string, isOn: () => boolean, set: (on: boolean) => Source): Node {
    const box = element('input', { type: 'checkbox' });
    box.addEventListener('change', () => this.set(set(box.checked)));
    this.following.push(() => (box.checked = isOn()));
    return element('p', {}, element('label', {}, box, ' ' + name));
  }

  /** A slider in steps and a number beside it; one says what the other does. */
  private slider(name: string, [least, most]: [number, number], get: (source: Source) => string, make: (value: string) => Source, stepOf: (value: number) => number, ofStep: (step: number) => string): Node {
    const id = `${this.id}-${name.split(',')[0]!.replaceAll(' ', '-')}`;
    const slider = element('input', { type: 'range', min: String(least), max: String(most), step: '1', 'aria-label': name });
    const number = element('input', { type: 'text', inputmode: 'decimal', size: '7', id, autocomplete: 'off' });
    slider.addEventListener('input', () => this.set(make(ofStep(Number(slider.value)))));
    number.addEventListener('change', () => this.set(make(number.value.trim() || '0')));
    this.following.push(() => {
      const value = get(this.source);
      const step = String(stepOf(numberOf(value)));
      if (slider.value !== step && !(hasFocus(slider) && ofStep(Number(slider.value)) === value)) slider.value = step;
      slider.setAttribute('aria-valuetext', `${value} ${name.split(', ').at(-1)!}`);
      if (!hasFocus(number) || numberOf(number.value) !== numberOf(value)) number.value = value;
    });
    return element('div', { class: 'value' }, element('label', { for: id }, name), number, element('div', { class: 'wide' }, slider));
  }
}
