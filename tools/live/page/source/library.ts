// The library in WebAssembly: text in, named arrays and texts out. No number is worked out on this side.

import type { Sound } from './wav';

/** One answer. The arrays are views into the library's memory: good until the next question. */
export interface Answer {
  numbers: Map<string, Float64Array>;
  texts: Map<string, string>;
  lines: Map<string, string[]>;
  rows: Map<string, string[][]>;
}

interface Exports {
  memory: WebAssembly.Memory;
  _initialize?: () => void;
  room(size: number): number;
  give(nameSize: number): void;
  forget(): void;
  give_sound(nameSize: number, rate: number, channels: number): void;
  forget_sounds(): void;
  ask(): number;
  entries(): number;
}

/** A request that the library refused, in its own words. */
export class Refused extends Error {}

const notSupported = 52; // WASI's errno "nosys"
const entrySize = 20;

/** The library reads no clock, environment or stream; what its C library would ask for is not there. */
function importsOf(module: WebAssembly.Module): WebAssembly.Imports {
  const imports: Record<string, Record<string, () => number>> = {};
  for (const one of WebAssembly.Module.imports(module)) {
    if (one.kind === 'function') (imports[one.module] ??= {})[one.name] = () => notSupported;
  }
  return imports;
}

export class Library {
  private readonly encoder = new TextEncoder();
  private readonly decoder = new TextDecoder();

  private constructor(private readonly exports: Exports) {}

  static async start(bytes: BufferSource): Promise<Library> {
    const module = await WebAssembly.compile(bytes);
    const instance = await WebAssembly.instantiate(module, importsOf(module));
    const exports = instance.exports as unknown as Exports;
    exports._initialize?.();
    return new Library(exports);
  }

  /** How much memory it has taken, in bytes. */
  get memorySize(): number {
    return this.exports.memory.buffer.byteLength;
  }

  /** Makes bytes the file of that name. */
  give(name: string, bytes: Uint8Array): void {
    const nameBytes = this.encoder.encode(name);
    this.fill(nameBytes, bytes);
    this.exports.give(nameBytes.length);
  }

  /** Makes samples the recording of that name. */
  giveSound(name: string, { rate, channels, samples }: Sound): void {
    const nameBytes = this.encoder.encode(name);
    const gap = new Uint8Array((4 - (nameBytes.length % 4)) % 4);
    this.fill(nameBytes, gap, new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength));
    this.exports.give_sound(nameBytes.length, rate, channels);
  }

  forgetSounds(): void {
    this.exports.forget_sounds();
  }

  forget(name: string): void {
    this.fill(this.encoder.encode(name));
    this.exports.forget();
  }

  /** Throws Refused with the library's own sentence. */
  ask(question: string, request: readonly (readonly [string, string])[]): Answer {
    const lines = request.map(([key, value]) => `${key} ${value.replaceAll('\n', ' ')}`);
    this.fill(this.encoder.encode([question, ...lines].join('\n')));
    const answer = this.read(this.exports.ask());
    const error = answer.texts.get('error');
    if (error !== undefined) throw new Refused(error);
    return answer;
  }

  private fill(...parts: Uint8Array[]): void {
    const size = parts.reduce((sum, part) => sum + part.length, 0);
    const at = this.exports.room(size);
    if (at === 0 && size > 0) throw new Refused('there is not enough memory for this input; use a smaller file');
    const room = new Uint8Array(this.exports.memory.buffer, at, size);
    let used = 0;
    for (const part of parts) {
      room.set(part, used);
      used += part.length;
    }
  }

  private read(count: number): Answer {
    const answer: Answer = { numbers: new Map(), texts: new Map(), lines: new Map(), rows: new Map() };
    const start = this.exports.entries();
    const memory = this.exports.memory.buffer;
    const table = new Uint32Array(memory, start, (count * entrySize) / 4);
    const text = (at: number, size: number) => this.decoder.decode(new Uint8Array(memory, at, size));
    for (let i = 0; i < count; ++i) {
      const [nameAt, nameSize, kind, data, size] = table.subarray(i * 5, i * 5 + 5) as unknown as number[];
      const name = text(nameAt!, nameSize!);
      if (kind === 0) answer.numbers.set(name, size === 0 ? new Float64Array() : new Float64Array(memory, data!, size!));
      else if (kind === 1) answer.texts.set(name, text(data!, size!));
      else if (kind === 2) answer.lines.set(name, pieces(text(data!, size!), '\n'));
      else answer.rows.set(name, pieces(text(data!, size!), '\n').map((row) => pieces(row, '\t')));
    }
    return answer;
  }
}

/** What stands before each mark. */
function pieces(text: string, mark: string): string[] {
  return text.split(mark).slice(0, -1);
}

/** The bytes behind base 64; a browser of 2025 and later has its own, many times faster, way. */
export function bytesOf(base64: string): Uint8Array<ArrayBuffer> {
  const own = (Uint8Array as unknown as { fromBase64?: (text: string) => Uint8Array<ArrayBuffer> }).fromBase64;
  if (own) return own(base64);
  const letters = atob(base64.trim());
  const bytes = new Uint8Array(letters.length);
  for (let i = 0; i < letters.length; ++i) bytes[i] = letters.charCodeAt(i);
  return bytes;
}

/** The bytes behind base 64 of gzip. */
export async function unpacked(base64: string): Promise<ArrayBuffer> {
  const stream = new Blob([bytesOf(base64)]).stream().pipeThrough(new DecompressionStream('gzip'));
  return new Response(stream).arrayBuffer();
}
