// A sound card by the browser's audio: plays one channel and records two, as raw samples.
import type { Sound } from './wav';

export interface Device {
  id: string;
  name: string;
}

/** Why the browser gives no sound card, in a sentence with what works instead. */
export class NoSound extends Error {}

const elsewhere = 'or record with another program and drop the WAV files here';

const bufferFrames = 8192; // 0.17 s: what a busy page may be late without losing samples

function reasonOf(error: unknown): NoSound {
  const name = (error as DOMException)?.name;
  if (name === 'NotAllowedError') return new NoSound(`the browser was not allowed to use the input; allow it beside the address and press the button again, ${elsewhere}`);
  if (name === 'NotFoundError' || name === 'OverconstrainedError') return new NoSound(`that input is not there; connect it and press the button again, ${elsewhere}`);
  if (name === 'NotReadableError' || name === 'AbortError') return new NoSound(`another program holds the input; close it and press the button again, ${elsewhere}`);
  return new NoSound(`the browser gives no sound (${error instanceof Error ? error.message : String(error)}); use another browser, ${elsewhere}`);
}

/** The inputs and outputs, named once the reader has allowed it. */
export async function devices(): Promise<{ inputs: Device[]; outputs: Device[] }> {
  const media = navigator.mediaDevices as MediaDevices | undefined;
  if (!media?.getUserMedia || typeof AudioContext === 'undefined') throw new NoSound(`this browser gives this page no sound (it may want the page from a file or from https); use another one, ${elsewhere}`);
  try {
    const asked = await media.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
    const all = await media.enumerateDevices();
    for (const track of asked.getTracks()) track.stop();
    const of = (kind: string) => all.filter((one) => one.kind === kind).map((one, i) => ({ id: one.deviceId, name: one.label || `${kind === 'audioinput' ? 'input' : 'output'} ${i + 1}` }));
    return { inputs: of('audioinput'), outputs: of('audiooutput') };
  } catch (error) {
    throw reasonOf(error);
  }
}

export interface Watched {
  /** Largest magnitude of each channel since the last block. */
  peaks: [number, number];
  seconds: number;
}

/** Opened for one step; it falls silent and is closed after it, and on anything that goes wrong. */
export class SoundCard {
  /** What the browser says that it does to the samples in spite of the request. */
  readonly notes: string[] = [];
  private readonly taken: Float32Array[] = [];
  private playing: AudioBufferSourceNode | null = null;
  private readonly node: ScriptProcessorNode;
  private started = 0;
  private closed = false;

  private constructor(private readonly context: AudioContext, private readonly stream: MediaStream, private readonly watch: (watched: Watched) => void, lost: (why: string) => void) {
    const source = context.createMediaStreamSource(stream);
    // An audio worklet would be a script from an address, which the page's policy has none of.
    this.node = context.createScriptProcessor(bufferFrames, 2, 1);
    this.node.channelCount = 2;
    this.node.channelCountMode = 'explicit';
    this.node.addEventListener('audioprocess', (event) => this.keep(event.inputBuffer));
    source.connect(this.node);
    this.node.connect(context.destination);
    this.started = context.currentTime;
    const track = stream.getAudioTracks()[0]!;
    track.addEventListener('ended', () => this.closed || lost('the input was lost; connect it again and repeat the step'));
    track.addEventListener('mute', () => this.closed || lost('the input fell silent; check that no other program took it, and repeat the step'));
    context.addEventListener('statechange', () => this.closed || context.state === 'running' || lost('the browser stopped the sound; keep the page in front and repeat the step'));
    this.noteSettings(track.getSettings());
  }

  static async open(input: string, output: string, watch: (watched: Watched) => void, lost: (why: string) => void): Promise<SoundCard> {
    try {
      const stream = await navigator.mediaDevices.getUserMedia({
        audio: { ...(input ? { deviceId: { exact: input } } : {}), channelCount: { ideal: 2 }, echoCancellation: false, noiseSuppression: false, autoGainControl: false },
      });
      const context = new AudioContext({ latencyHint: 'playback' });
      const chooses = context as AudioContext & { setSinkId?: (id: string) => Promise<void> };
      if (output && chooses.setSinkId) await chooses.setSinkId(output);
      await context.resume();
      return new SoundCard(context, stream, watch, lost);
    } catch (error) {
      throw reasonOf(error);
    }
  }

  get rate(): number {
    return this.context.sampleRate;
  }

  private noteSettings(settings: MediaTrackSettings): void {
    const on = [['echoCancellation', 'echo cancelling'], ['noiseSuppression', 'noise suppression'], ['autoGainControl', 'automatic gain']]
      .filter(([key]) => (settings as Record<string, unknown>)[key!] === true).map(([, name]) => name);
    if (on.length > 0) this.notes.push(`${on.join(', ')} stayed on although it was asked off; switch it off in the system's settings`);
    if (settings.sampleRate && settings.sampleRate !== this.rate) this.notes.push(`the input runs at ${settings.sampleRate} Hz and the output at ${this.rate} Hz, so the browser resamples; set both to one rate in the system's settings`);
    if (settings.channelCount === 1) this.notes.push('the input has one channel; choose a line input of two channels');
  }

  private keep(buffer: AudioBuffer): void {
    if (this.closed) return;
    const [left, right] = [buffer.getChannelData(0), buffer.getChannelData(1)];
    const block = new Float32Array(2 * left.length);
    const peaks: [number, number] = [0, 0];
    for (let i = 0; i < left.length; ++i) {
      block[2 * i] = left[i]!;
      block[2 * i + 1] = right[i]!;
      peaks[0] = Math.max(peaks[0], Math.abs(left[i]!));
      peaks[1] = Math.max(peaks[1], Math.abs(right[i]!));
    }
    this.taken.push(block);
    this.watch({ peaks, seconds: (this.taken.length * bufferFrames) / this.rate });
  }

  /** Plays samples once, or over and over; what played before stops. */
  play(samples: Float64Array, again = false): void {
    this.playing?.stop();
    const buffer = this.context.createBuffer(1, samples.length, this.rate);
    buffer.copyToChannel(Float32Array.from(samples), 0);
    this.playing = this.context.createBufferSource();
    this.playing.buffer = buffer;
    this.playing.loop = again;
    this.playing.connect(this.context.destination);
    this.playing.start();
  }

  /** All that was recorded, and whether samples were lost on the way. */
  recorded(): Sound & { lost: boolean } {
    const frames = this.taken.length * bufferFrames;
    const samples = new Float32Array(2 * frames);
    this.taken.forEach((block, i) => samples.set(block, 2 * bufferFrames * i));
    const passed = (this.context.currentTime - this.started) * this.rate;
    return { rate: this.rate, channels: 2, samples, lost: passed - frames > 4 * bufferFrames };
  }

  /** Silent at once. */
  close(): void {
    if (this.closed) return;
    this.closed = true;
    try {
      this.playing?.stop();
    } catch {
      // it had not begun
    }
    this.node.disconnect();
    for (const track of this.stream.getTracks()) track.stop();
    void this.context.close();
  }
}
