// What the page shows, as a value that a link restores.

/** A source as the library takes it: "6", "file NAME | 1 off", "pad 10 32" (tools/live/source_spec.h). */
export type Source = string;

export interface State {
  /** Files of earphones; the first is the one that all figures are of. */
  earphones: string[];
  from: Source;
  to: Source;
  /** Sources that stay for comparison. */
  kept: Source[];
  /** "1000", "300-3000" or "none". */
  anchor: string;
  limit: string;
}

export const mostKept = 6;
export const mostEarphones = 8;

export function fragmentOf(state: State): string {
  const words = new URLSearchParams();
  for (const name of state.earphones) words.append('earphone', name);
  words.append('from', state.from);
  words.append('to', state.to);
  for (const source of state.kept) words.append('keep', source);
  words.append('anchor', state.anchor);
  words.append('limit', state.limit);
  return '#' + words.toString();
}

/** The state that a fragment describes; what it does not say stays. */
export function stateOf(fragment: string, usual: State): State {
  const words = new URLSearchParams(fragment.replace(/^#/, ''));
  const earphones = words.getAll('earphone').slice(0, mostEarphones);
  return {
    earphones: earphones.length > 0 ? [...new Set(earphones)] : usual.earphones,
    from: words.get('from') ?? usual.from,
    to: words.get('to') ?? usual.to,
    kept: words.has('keep') ? words.getAll('keep').slice(0, mostKept) : words.has('to') ? [] : usual.kept,
    anchor: words.get('anchor') ?? usual.anchor,
    limit: words.get('limit') ?? usual.limit,
  };
}

// ---- sources ------------------------------------------------------------------------------------

export interface Stage {
  stage: number;
  key: string;
  ohm: number;
  label: string;
}

/** A source taken apart for its controls. */
export type SourceParts =
  | { kind: 'ohm'; ohm: string }
  | { kind: 'pad'; db: string; ohm: string }
  | { kind: 'file'; name: string; changes: Map<string, string> };

export function partsOf(source: Source): SourceParts {
  if (source.startsWith('pad ')) {
    const [, db = '10', ohm = '32'] = source.split(' ');
    return { kind: 'pad', db, ohm };
  }
  if (!source.startsWith('file ')) return { kind: 'ohm', ohm: source };
  const [name = '', ...changes] = source.slice(5).split(' | ');
  return {
    kind: 'file',
    name,
    changes: new Map(changes.map((change) => change.split(' ') as [string, string])),
  };
}

export function sourceOf(parts: SourceParts): Source {
  if (parts.kind === 'ohm') return parts.ohm;
  if (parts.kind === 'pad') return `pad ${parts.db} ${parts.ohm}`;
  return ['file ' + parts.name, ...[...parts.changes].map(([key, value]) => `${key} ${value}`)].join(' | ');
}

// ---- the slider of a resistance -------------------------------------------------------------------

export const lastStep = 400;
const leastOhm = 0.05;
const mostOhm = 1000;

/** 0 at the slider's left end, then in steps of one ratio; three digits, as a number is written. */
export function ohmOfStep(step: number): string {
  if (step <= 0) return '0';
  const ohm = leastOhm * (mostOhm / leastOhm) ** ((step - 1) / (lastStep - 1));
  return String(Number(ohm.toPrecision(3)));
}

export function stepOfOhm(ohm: number): number {
  if (!(ohm >= leastOhm)) return 0;
  const step = 1 + (lastStep - 1) * (Math.log(ohm / leastOhm) / Math.log(mostOhm / leastOhm));
  return Math.min(lastStep, Math.round(step));
}
