// From sound card to curve, step by step: what is wired, what plays, what was heard, and what is wrong with it.
import { at, download, element, list, say } from './elements';
import { Refused, type Library } from './library';
import { devices, NoSound, SoundCard, type Watched } from './sound_card';
import { soundOf, wavOf, type Sound } from './wav';
import { wiring, type Wired } from './wiring';

type Step = 'ask' | 'level' | 'same' | 'short' | 'left' | 'right' | 'done';

interface StepText {
  title: string;
  button: string;
  wired?: Wired;
  what: string;
}

const texts: Record<Step, StepText> = {
  ask: { title: 'What is needed', button: 'Choose the sound card', what: '' },
  level: {
    title: 'Level', button: 'Start at −60 dB', wired: 'same',
    what: 'Join the output to both inputs, without resistor and earphone. The sound starts at −60 dB of full scale and rises in steps of 6 dB until the recording is loud enough. Escape silences it.',
  },
  same: { title: 'One signal on both inputs', button: 'Record both inputs', wired: 'same', what: 'Leave it wired so: this recording takes the difference of the inputs out of all that follow.' },
  short: { title: 'A short', button: 'Record the short', wired: 'short', what: 'Put the resistor in, and a wire in the place of the earphone: this recording takes the leads out.' },
  left: { title: 'Earphone, left', button: 'Record left', wired: 'earphone', what: 'Take the wire out and connect the left side of the earphone, sealed as it is worn.' },
  right: { title: 'Earphone, right', button: 'Record right', wired: 'earphone', what: 'Connect the right side, sealed in the same way.' },
  done: { title: 'Done', button: 'Measure another earphone', what: '' },
};
const order: Step[] = ['ask', 'level', 'same', 'short', 'left', 'right', 'done'];

const firstLevel = -60;
const lastLevel = -6;
const levelStep = 6;
const levelSeconds = 0.8;
const enoughPeak = 0.2; // -14 dB of full scale: one step more stays below -6
const clippedPeak = 0.985;
const quietPeak = 0.002;
const before = 0.4;
const after = 2.6; // what the noise is taken from
const mostTakes = 12;
const lateMilliseconds = 3000;

type Side = 'left' | 'right';

/** What a curve was made into: the page goes on with it. */
export interface Measured {
  name: string;
  text: string;
}

export class Measuring {
  private step: Step = 'ask';
  private card: SoundCard | null = null;
  private level = firstLevel;
  private rate = 0;
  private readonly recordings = new Map<string, Sound>();
  private readonly curves = new Map<Side, Measured>();
  private stopped = '';
  private wake: (() => void) | null = null;
  private peaks: [number, number] = [0, 0];
  private passed = 0;
  /** Of the last recording, silence included. */
  private takeSeconds = 0;

  constructor(private readonly library: Library, private readonly took: (files: File[]) => Promise<string[]>) {
    at('measure-cautions').replaceChildren(...list(library.ask('cautions', []).lines.get('cautions') ?? []));
    at('measure-go').addEventListener('click', () => void this.go());
    at('measure-stop').addEventListener('click', () => this.silence('Stopped.'));
    at('measure-skip').addEventListener('click', () => this.finish());
    at('measure-reference').addEventListener('input', () => this.show());
    addEventListener('keydown', (event) => event.key === 'Escape' && this.silence('Stopped by Escape.'));
    document.addEventListener('visibilitychange', () => document.hidden && this.silence('Stopped because the page was hidden; keep it in front.'));
    addEventListener('pagehide', () => this.silence(''));
    addEventListener('error', () => this.silence('Stopped by a fault of the page.'));
    this.show();
  }

  // ---- what stands there ------------------------------------------------------------------------------

  private show(): void {
    const text = texts[this.step];
    say(at('measure-title'), text.title);
    say(at('measure-what'), text.what);
    say(at('measure-go'), text.button);
    at('measure-needs').hidden = this.step !== 'ask';
    at('measure-devices').hidden = this.step === 'ask' || this.step === 'done';
    at('measure-skip').hidden = this.step !== 'right';
    at('measure-cautions').hidden = !['ask', 'level', 'left', 'right'].includes(this.step);
    const wired = at('measure-wiring');
    wired.hidden = !text.wired && this.step !== 'ask';
    wired.replaceChildren(wiring(text.wired ?? 'earphone', this.number('reference')));
    const place = order.indexOf(this.step);
    at('measure-steps').replaceChildren(...order.slice(0, -1).map((one, i) => element('li', i === place ? { 'aria-current': 'step' } : {}, i < place ? this.again(one) : texts[one].title)));
  }

  /** A step that was done can be done again. */
  private again(step: Step): HTMLButtonElement {
    const button = element('button', { type: 'button', class: 'remove' }, `${texts[step].title}: again`);
    button.addEventListener('click', () => this.card || this.to(step));
    return button;
  }

  private to(step: Step): void {
    this.step = step;
    this.show();
    at('measure-go').focus();
  }

  private number(id: string): number {
    return Number(at<HTMLInputElement>('measure-' + id).value);
  }

  private tell(text: string): void {
    say(at('measure-said'), text);
  }

  private findings(texts: readonly string[]): void {
    at('measure-findings').replaceChildren(...list(texts));
  }

  // ---- one key a step -----------------------------------------------------------------------------------

  private async go(): Promise<void> {
    if (this.card) return;
    const button = at<HTMLButtonElement>('measure-go');
    button.disabled = true;
    this.stopped = '';
    this.findings([]);
    try {
      await this.take();
    } catch (error) {
      this.silence('');
      if (!(error instanceof NoSound || error instanceof Refused)) throw error;
      this.findings([error.message]);
      this.tell('This step has to be repeated.');
    } finally {
      this.close();
      button.disabled = false;
      button.focus();
    }
  }

  private async take(): Promise<void> {
    if (this.step === 'ask') return this.choose();
    if (this.step === 'level') return this.raise();
    if (this.step === 'same' || this.step === 'short') return this.calibrate(this.step);
    if (this.step === 'left' || this.step === 'right') return this.measure(this.step);
    this.recordings.clear();
    this.curves.clear();
    this.library.forgetSounds();
    this.to('level');
  }

  private async choose(): Promise<void> {
    for (const [id, what] of [['reference', 'resistor in ohm'], ['wanted', 'wanted uncertainty in percent'], ['seconds', 'length in seconds']] as const)
      if (!(this.number(id) > 0)) throw new NoSound(`the ${what} is no positive number; write one`);
    const { inputs, outputs } = await devices();
    for (const [id, all] of [['input', inputs], ['output', outputs]] as const)
      at(`measure-${id}`).replaceChildren(...all.map((one) => element('option', { value: one.id }, one.name)));
    at('measure-output').closest('label')!.hidden = outputs.length === 0;
    this.tell('Start quiet: the first sound comes with the next button.');
    this.to('level');
  }

  private chosen(id: string): string {
    return at<HTMLSelectElement>('measure-' + id).value;
  }

  private async open(): Promise<SoundCard> {
    this.peaks = [0, 0];
    this.passed = 0;
    const card = await SoundCard.open(this.chosen('input'), this.chosen('output'), (watched) => this.watch(watched), (why) => this.silence(why));
    if (this.stopped || document.hidden) {
      card.close();
      throw new NoSound(this.stopped || 'the page is hidden; keep it in front');
    }
    this.card = card;
    if (this.rate !== 0 && this.rate !== card.rate) throw new NoSound(`the sound card now runs at ${card.rate} Hz, not ${this.rate} Hz; set it back, or begin again`);
    this.rate = card.rate;
    at('measure-stop').hidden = false;
    return card;
  }

  private watch({ peaks, seconds }: Watched): void {
    this.peaks = [Math.max(this.peaks[0], peaks[0]), Math.max(this.peaks[1], peaks[1])];
    this.passed = seconds;
    for (const [i, id] of ['measure-level-1', 'measure-level-2'].entries())
      at<HTMLMeterElement>(id).value = Math.max(-90, 20 * Math.log10(Math.max(peaks[i]!, 1e-6)));
    if (Math.max(...peaks) >= clippedPeak) this.silence('The recording is clipped: turn the input down (or the output), and begin this step again.');
    this.wake?.();
  }

  /** Until that much was recorded; throws where it was stopped. */
  private async until(seconds: number, tell?: (left: number) => string): Promise<void> {
    for (;;) {
      if (this.stopped) throw new NoSound(this.stopped);
      if (this.passed >= seconds) return;
      if (tell) this.tell(tell(Math.max(0, seconds - this.passed)));
      await new Promise<void>((resolve) => {
        const late = setTimeout(() => {
          this.silence('nothing comes from the input; check that it is connected and that no other program holds it');
          resolve();
        }, lateMilliseconds);
        this.wake = () => {
          clearTimeout(late);
          resolve();
        };
      });
    }
  }

  /** Silent at once, with the reason. */
  private silence(why: string): void {
    if (!this.card) {
      if (why && this.step !== 'ask') this.stopped = why;
      return;
    }
    this.stopped ||= why || 'Stopped.';
    this.close();
    this.wake?.();
    this.tell(this.stopped);
  }

  private close(): void {
    this.card?.close();
    this.card = null;
    at('measure-stop').hidden = true;
  }

  private stimulus(seconds: number, level: number): Float64Array {
    return this.library.ask('stimulus', [['rate', String(this.rate)], ['seconds', String(seconds)], ['level', String(level)]]).numbers.get('samples')!.slice();
  }

  private async raise(): Promise<void> {
    const card = await this.open();
    let heard: [number, number] = [0, 0];
    for (this.level = firstLevel; ; this.level += levelStep) {
      card.play(this.stimulus(1, this.level), true);
      this.peaks = [0, 0];
      await this.until(this.passed + levelSeconds, () => `Plays at ${this.level} dB of full scale.`);
      heard = this.peaks;
      if (Math.max(...heard) >= enoughPeak || this.level + levelStep > lastLevel) break;
    }
    const notes = card.notes;
    this.close();
    if (Math.max(...heard) < quietPeak) throw new NoSound('hardly anything arrives at the inputs; check the wiring, and that the inputs are line inputs and turned up');
    if (heard[1] < 0.05 * heard[0]) throw new NoSound('the sound arrives at input 1 alone; join both inputs to the output (a device of one channel cannot measure)');
    if (heard[0] < 0.05 * heard[1]) throw new NoSound('the sound arrives at input 2 alone; join both inputs to the output');
    this.findings(notes);
    this.tell(`Level: ${this.level} dB of full scale, and the recording reaches ${(20 * Math.log10(Math.max(...heard))).toFixed(0)} dB.`);
    this.to('same');
  }

  // ---- recordings ---------------------------------------------------------------------------------------

  /** Records one step under that name; findings are shown. */
  private async record(name: string, step: 'same' | 'short' | 'earphone', told: string): Promise<string[]> {
    const card = await this.open();
    const seconds = this.number('seconds');
    const samples = this.stimulus(seconds, this.level);
    const whole = before + samples.length / this.rate + after;
    this.takeSeconds = whole;
    await this.until(before);
    card.play(samples);
    await this.until(whole, (left) => `${told}${left.toFixed(0)} s.`);
    const recorded = card.recorded();
    this.close();
    this.tell('Working it out ...');
    await new Promise((resolve) => setTimeout(resolve, 20));
    this.keep(name, recorded);
    const answer = this.library.ask('recorded', [['name', name], ['step', step]]);
    const rows = answer.rows.get('findings') ?? [];
    const said = [...card.notes, ...rows.map((row) => row[1]!)];
    if (recorded.lost) said.push('the browser lost samples; close other pages and programs, and record again');
    if (recorded.lost || rows.some((row) => row[2] === 'refuses')) {
      this.recordings.delete(name);
      this.findings(said);
      throw new Refused(said.join(' ') || 'the recording cannot be used; record again');
    }
    return said;
  }

  private keep(name: string, sound: Sound): void {
    this.recordings.set(name, sound);
    this.library.giveSound(name, sound);
  }

  private async calibrate(step: 'same' | 'short'): Promise<void> {
    const said = await this.record(step + '.wav', step, 'Recording, ');
    this.tell('Recorded.');
    this.to(step === 'same' ? 'short' : 'left');
    this.findings(said);
  }

  private curveOf(side: Side, names: string[]) {
    const calibrations = (['same', 'short'] as const).filter((one) => this.recordings.has(one + '.wav')).map((one): [string, string] => [one, one + '.wav']);
    return this.library.ask('impedance', [
      ...names.map((name): [string, string] => ['recording', name]), ...calibrations, ['reference', String(this.number('reference'))],
      ['tolerance', String(this.number('tolerance'))], ['wanted', String(this.number('wanted'))], ['title', `Measured earphone, ${side}`],
    ]);
  }

  /** Repeats until the wanted uncertainty is reached, or says what limits it. */
  private async measure(side: Side): Promise<void> {
    const wanted = this.number('wanted');
    const names: string[] = [];
    let needed = 1;
    let limit = '';
    let said: string[] = [];
    for (;;) {
      const name = `${side}-${names.length + 1}.wav`;
      const left = (needed - names.length) * (this.takeSeconds || this.number('seconds') + before + after);
      said = await this.record(name, 'earphone', `Recording ${names.length + 1}${needed > 1 ? ` of about ${needed}, ${Math.ceil(left)} s in all` : ''}: `);
      names.push(name);
      const answer = this.curveOf(side, names);
      const [stated, more] = answer.numbers.get('stated')! as unknown as number[];
      said = [...said, ...(answer.rows.get('findings') ?? []).map((row) => row[1]!)];
      this.curves.set(side, { name: `measured-${side}.csv`, text: answer.texts.get('curve')! });
      const assumed = answer.lines.get('assumed') ?? [];
      limit = `${answer.texts.get('stated_text')!}. ${answer.texts.get('verdict')!}`;
      if (stated! <= wanted) break;
      const reasons = [...assumed, `the resistor's tolerance of ±${this.number('tolerance')} %`].join(', ');
      limit = `${limit} Wanted was ±${wanted} %.`;
      if (names.length > 2 && more === 0) {
        limit += ` More recordings do not lower it: ±${answer.texts.get('steady_text')!} stay for what is the same in all of them (${reasons}).`;
        break;
      }
      // Of one or two takes it is not told well what more of them lower.
      needed = names.length < 3 ? names.length + 1 : Math.max(more!, names.length + 1);
      if (needed > mostTakes) {
        limit += ` Noise limits it: ${needed} recordings would be needed; make them longer, or the level higher.`;
        break;
      }
    }
    this.findings([...new Set(said)]);
    this.tell(limit);
    if (side === 'left') this.to('right');
    else this.finish();
  }

  // ---- the end ------------------------------------------------------------------------------------------

  private finish(): void {
    this.to('done');
    const made = [...this.curves.values()];
    void this.took(made.map((one) => new File([one.text], one.name, { type: 'text/csv' }))).then((names) => this.compareSides(names));
    this.offer();
  }

  private compareSides([left, right]: string[]): void {
    if (left === undefined || right === undefined) return;
    const answer = this.library.ask('sides', [['earphone', left], ['to', right]]);
    say(at('measure-sides'), answer.texts.get('conclusion')!);
  }

  private offer(): void {
    const button = (name: string, bytes: () => BlobPart, type: string) => {
      const one = element('button', { type: 'button' }, name);
      one.addEventListener('click', () => download(name, new Blob([bytes()], { type }), type));
      return one;
    };
    at('measure-files').replaceChildren(
      ...[...this.curves.values()].map((one) => button(one.name, () => one.text, 'text/csv')),
      ...[...this.recordings].map(([name, sound]) => button(name, () => wavOf(sound), 'audio/wav')));
  }

  /** WAV files recorded elsewhere: "same", "short" and "stimulus" or "sweep" in a name say what they are. */
  async drop(files: readonly File[]): Promise<string[]> {
    const refused: string[] = [];
    const takes: string[] = [];
    for (const file of files) {
      const known = (['stimulus', 'sweep', 'same', 'short'] as const).find((one) => file.name.toLowerCase().includes(one));
      try {
        const sound = soundOf(await file.arrayBuffer(), file.name);
        const name = known ? `${known === 'sweep' ? 'stimulus' : known}.wav` : file.name;
        this.keep(name, sound);
        if (!known) takes.push(name);
      } catch (error) {
        refused.push((error as Error).message);
      }
    }
    if (takes.length === 0) return refused;
    if (!this.recordings.has('stimulus.wav')) return [...refused, `${takes[0]}: the sound that was played is missing; drop it too, with "stimulus" in its name`];
    (at('measure') as HTMLDetailsElement).open = true;
    try {
      const side: Side = /right/i.test(takes[0]!) ? 'right' : 'left';
      const answer = this.curveOf(side, takes);
      this.findings((answer.rows.get('findings') ?? []).map((row) => row[1]!));
      this.tell(`${answer.texts.get('stated_text')!}. ${answer.texts.get('verdict')!}`);
      this.curves.set(side, { name: `measured-${side}.csv`, text: answer.texts.get('curve')! });
      const one = this.curves.get(side)!;
      await this.took([new File([one.text], one.name, { type: 'text/csv' })]);
      this.offer();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      refused.push(error.message);
    }
    return refused;
  }
}
