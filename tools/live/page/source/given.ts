// What the command put into the page, and what a reader drops on it.
import { bytesOf, Refused, type Library } from './library';
import type { State } from './state';

export interface Given {
  title: string;
  /** Every file that is read, in base 64. */
  files: { name: string; bytes: string }[];
  earphones: string[];
  /** One an earphone. */
  titles: string[];
  sources: string[];
  start: State;
}

export interface Known {
  name: string;
  title: string;
}

export const mostBytes = 16 * 2 ** 20;

export function given(): Given {
  return JSON.parse(document.getElementById('given')!.textContent!) as Given;
}

const chains = /\.chain\.toml$/i;
const earphones = /\.(earphone|circuit)\.toml$/i;
const responses = /\.response\./i;

/** The files that the page knows, and what they are. */
export class Files {
  readonly earphones: Known[] = [];
  readonly sources: Known[] = [];
  private readonly names = new Set<string>();

  constructor(private readonly library: Library, page: Given) {
    for (const file of page.files) {
      this.names.add(file.name);
      library.give(file.name, bytesOf(file.bytes));
    }
    page.earphones.forEach((name, i) => this.know(this.earphones, name, page.titles[i]));
    for (const name of page.sources) this.know(this.sources, name, this.titleOf('source', ['from', 'file ' + name]));
  }

  /** Takes a reader's own files in: what became of them, in sentences. */
  async take(files: readonly File[]): Promise<{ opened: string[]; sources: string[]; refused: string[] }> {
    const result = { opened: [] as string[], sources: [] as string[], refused: [] as string[] };
    const names: string[] = [];
    for (const file of files) {
      if (file.size > mostBytes) {
        result.refused.push(`${file.name}: the file is larger than ${mostBytes >> 20} MB, the most that this page reads; thin it out or use the program`);
        continue;
      }
      try {
        const bytes = new Uint8Array(await file.arrayBuffer());
        const name = this.names.has(file.name) ? 'own/' + file.name : file.name;
        this.library.give(name, bytes);
        names.push(name);
      } catch {
        result.refused.push(`${file.name}: the file cannot be read; give a file, not a folder`);
      }
    }
    const whole = names.some((name) => earphones.test(name));
    for (const name of names) {
      const part = (whole && !/\.toml$/i.test(name)) || (responses.test(name) && names.some((other) => !responses.test(other)));
      if (part) continue; // of an earphone file that came with it
      const chain = this.isChain(name);
      const known = this.attempt(name, chain, result.refused);
      if (known) (chain ? result.sources : result.opened).push(name);
      else this.lose(name);
    }
    return result;
  }

  private lose(name: string): void {
    this.library.forget(name);
    for (const all of [this.earphones, this.sources]) {
      const before = all.findIndex((one) => one.name === name);
      if (before >= 0) all.splice(before, 1);
    }
  }

  /** By its name, or a TOML file by what it holds. */
  private isChain(name: string): boolean {
    if (chains.test(name)) return true;
    if (earphones.test(name) || !/\.toml$/i.test(name)) return false;
    try {
      this.library.ask('source', [['from', 'file ' + name]]);
      return true;
    } catch {
      return false;
    }
  }

  private attempt(name: string, chain: boolean, refused: string[]): boolean {
    try {
      if (chain) this.know(this.sources, name, this.titleOf('source', ['from', 'file ' + name]));
      else this.know(this.earphones, name, this.titleOf('open', ['earphone', name]));
      return true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      refused.push(error.message);
      return false;
    }
  }

  private titleOf(question: string, request: [string, string]): string | undefined {
    return this.library.ask(question, [request]).texts.get('title');
  }

  private know(all: Known[], name: string, titled: string | undefined): void {
    const title = titled || name;
    const before = all.findIndex((one) => one.name === name);
    const twin = all.some((one) => one.title === title && one.name !== name);
    const known = { name, title: twin ? `${title} [${name}]` : title };
    if (before >= 0) all[before] = known;
    else all.push(known);
  }
}
