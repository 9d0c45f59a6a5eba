// Elements without markup: every text is a text node.

export function element<Name extends keyof HTMLElementTagNameMap>(
  name: Name, attributes: Record<string, string>, ...inside: (Node | string)[]
): HTMLElementTagNameMap[Name] {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

/** In a report the page is a part of another, behind a shadow root. */
const root: Document | ShadowRoot = document.getElementById('ohmtilt-live')?.shadowRoot ?? document;

/** The element of that id, which the page has. */
export function at<Kind extends Element = HTMLElement>(id: string): Kind {
  return root.getElementById(id) as unknown as Kind;
}

export function hasFocus(node: Element): boolean {
  return root.activeElement === node;
}

/** Only where it changes: a text node that is set again is drawn again. */
export function say(node: Element, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}

export function list(items: readonly string[]): HTMLLIElement[] {
  return items.map((item) => element('li', {}, item));
}

export function tableOf(rows: readonly (readonly string[])[], caption: string, headings: boolean): HTMLTableElement {
  const width = Math.max(0, ...rows.map((row) => row.length));
  const cells = (row: readonly string[], name: 'th' | 'td') =>
    Array.from({ length: width }, (_, i) =>
      i === 0 && name === 'td' ? element('th', { scope: 'row' }, row[0] ?? '') : element(name, name === 'th' ? { scope: 'col' } : {}, row[i] ?? ''));
  const table = element('table', {}, element('caption', {}, caption));
  const body = rows.slice(headings ? 1 : 0).map((row) => element('tr', {}, ...cells(row, 'td')));
  if (headings && rows[0]) table.append(element('thead', {}, element('tr', {}, ...cells(rows[0], 'th'))));
  table.append(element('tbody', {}, ...body));
  return table;
}

/** In a box that scrolls sideways where the table is wider than the page, by keyboard, too. */
export function boxed(table: HTMLTableElement): HTMLElement {
  return element('div', { class: 'sideways', tabindex: '0', role: 'group', 'aria-label': table.caption?.textContent ?? '' }, table);
}

/** What a person wrote as a number; NaN for other words. */
export function numberOf(text: string): number {
  return text.trim() === '' ? NaN : Number(text.trim().replace(/ ?(ohm|ohms|Ω)$/, ''));
}

/** Hands a file to the reader. */
export function download(name: string, content: BlobPart, type: string): void {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = element('a', { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}
