// How a sound card, a resistor and an earphone are connected, drawn with attributes only.

export type Wired = 'same' | 'short' | 'earphone';

const space = 'http://www.w3.org/2000/svg';

function drawn(name: string, attributes: Record<string, string | number>, text = ''): SVGElement {
  const node = document.createElementNS(space, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, String(value));
  node.textContent = text;
  return node;
}

/** The rating that a resistor across a line output of 2 V needs: the next usual one above V^2/R (IEC 60063 knows no watts;
 * common practice, no source). */
export function wattOf(ohm: number): number {
  return [0.25, 0.5, 1, 2, 5, 10].find((watt) => watt > 4 / ohm) ?? 10;
}

/** The picture, and what it shows in words. */
export function wiring(part: Wired, ohm: number): SVGSVGElement {
  const svg = document.createElementNS(space, 'svg');
  const value = Number.isFinite(ohm) && ohm > 0 ? `${ohm} ohm, ${wattOf(ohm)} W` : 'resistor';
  const said = {
    same: 'The output, tip, goes to both inputs, tip and ring; no resistor, no earphone.',
    short: `The output, tip, goes to input 1, tip, and through the resistor (${value}) to input 2, ring; a wire in the earphone's place joins input 2 to the sleeve.`,
    earphone: `The output, tip, goes to input 1, tip, and through the resistor (${value}) to input 2, ring; the earphone, one side of it, lies between input 2 and the sleeve.`,
  }[part];
  for (const [key, of] of Object.entries({ viewBox: '0 0 520 170', width: 520, height: 170, role: 'img', 'aria-label': said, fill: 'none', stroke: 'currentColor', 'stroke-width': 1.6, 'font-size': 12, 'font-family': 'system-ui, "DejaVu Sans", sans-serif' })) svg.setAttribute(key, String(of));
  const line = (d: string) => svg.append(drawn('path', { d }));
  const dot = (x: number, y: number) => svg.append(drawn('circle', { cx: x, cy: y, r: 3, fill: 'currentColor' }));
  const terminal = (x: number, y: number) => svg.append(drawn('circle', { cx: x, cy: y, r: 4 }));
  const word = (x: number, y: number, text: string, anchor = 'middle') => svg.append(drawn('text', { x, y, fill: 'currentColor', stroke: 'none', 'text-anchor': anchor }, text));
  terminal(20, 60);
  terminal(20, 140);
  word(12, 44, 'output, tip', 'start');
  word(12, 162, 'output, sleeve', 'start');
  line('M24 140H496');
  line('M130 60V24');
  terminal(130, 20);
  dot(130, 60);
  word(140, 24, 'input 1: tip', 'start');
  terminal(500, 140);
  word(508, 162, 'inputs: sleeve', 'end');
  terminal(340, 20);
  word(350, 24, 'input 2: ring', 'start');
  line('M340 60V24');
  dot(340, 60);
  if (part === 'same') {
    line('M24 60H340');
    return svg;
  }
  line('M24 60H190M270 60H420V80M420 120V140');
  svg.append(drawn('rect', { x: 190, y: 50, width: 80, height: 20 }));
  word(230, 90, value);
  dot(420, 140);
  if (part === 'short') {
    line('M420 80V120');
    word(410, 105, 'a wire', 'end');
  } else {
    svg.append(drawn('rect', { x: 408, y: 80, width: 24, height: 40 }));
    word(400, 98, 'earphone,', 'end');
    word(400, 114, 'one side', 'end');
  }
  return svg;
}
