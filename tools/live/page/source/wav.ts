// WAV files as the command takes and writes them: read here, because the page hands over samples.

/** Samples of full scale 1, channels interleaved. */
export interface Sound {
  rate: number;
  channels: number;
  samples: Float32Array;
}

const wanted = 'give a PCM or float WAV of one or two channels';

/** The samples of a WAV file as libsndfile hands them over. Throws an Error that says what is wrong and what to do. */
export function soundOf(bytes: ArrayBuffer, name: string): Sound {
  const view = new DataView(bytes);
  const word = (at: number) => (at + 4 <= bytes.byteLength ? String.fromCharCode(...new Uint8Array(bytes, at, 4)) : '');
  if (word(0) !== 'RIFF' || word(8) !== 'WAVE') throw new Error(`${name}: it cannot be read as a WAV file; ${wanted}`);
  let format = { code: 0, channels: 0, rate: 0, bits: 0 };
  for (let at = 12; at + 8 <= bytes.byteLength; at += 8 + view.getUint32(at + 4, true) + (view.getUint32(at + 4, true) % 2)) {
    const size = view.getUint32(at + 4, true);
    if (word(at) === 'fmt ' && size >= 16 && at + 24 <= bytes.byteLength) {
      const code = view.getUint16(at + 8, true);
      // An extensible header names the form by a code of its own.
      format = { code: code === 0xfffe && size >= 40 && at + 34 <= bytes.byteLength ? view.getUint16(at + 32, true) : code, channels: view.getUint16(at + 10, true), rate: view.getUint32(at + 12, true), bits: view.getUint16(at + 22, true) };
    }
    if (word(at) !== 'data') continue;
    if (at + 8 + size > bytes.byteLength) throw new Error(`${name}: the file ends before the samples that its header promises; copy it again, or record again`);
    return { rate: format.rate, channels: format.channels, samples: samplesOf(view, at + 8, size, format, name) };
  }
  throw new Error(`${name}: it holds no samples; record again`);
}

function samplesOf(view: DataView, start: number, size: number, { code, channels, bits }: { code: number; channels: number; bits: number }, name: string): Float32Array {
  if (channels !== 1 && channels !== 2) throw new Error(`${name}: it has ${channels} channels; ${wanted}`);
  const readers: Record<string, (at: number) => number> = {
    '1 16': (at) => view.getInt16(at, true) / 0x8000,
    '1 24': (at) => ((view.getUint8(at + 2) << 24) | (view.getUint8(at + 1) << 16) | (view.getUint8(at) << 8)) / 0x80000000,
    '1 32': (at) => view.getInt32(at, true) / 0x80000000,
    '3 32': (at) => view.getFloat32(at, true),
    '3 64': (at) => view.getFloat64(at, true),
  };
  const read = readers[`${code} ${bits}`];
  if (!read) throw new Error(`${name}: it is not a WAV of 16, 24 or 32-bit integers or of floats; ${wanted}`);
  const count = Math.floor(size / (bits / 8) / channels) * channels;
  if (count === 0) throw new Error(`${name}: it holds no samples; record again`);
  return Float32Array.from({ length: count }, (_, i) => read(start + (i * bits) / 8));
}

/** A WAV of 32-bit floats: what was recorded, to the last bit. */
export function wavOf({ rate, channels, samples }: Sound): ArrayBuffer {
  const bytes = new ArrayBuffer(58 + 4 * samples.length);
  const view = new DataView(bytes);
  const write = (at: number, text: string) => [...text].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
  write(0, 'RIFF');
  view.setUint32(4, bytes.byteLength - 8, true);
  write(8, 'WAVEfmt ');
  view.setUint32(16, 18, true);
  view.setUint16(20, 3, true);
  view.setUint16(22, channels, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, 4 * channels * rate, true);
  view.setUint16(32, 4 * channels, true);
  view.setUint16(34, 32, true);
  write(38, 'fact');
  view.setUint32(42, 4, true);
  view.setUint32(46, samples.length / channels, true);
  write(50, 'data');
  view.setUint32(54, 4 * samples.length, true);
  samples.forEach((value, i) => view.setFloat32(58 + 4 * i, value, true));
  return bytes;
}
