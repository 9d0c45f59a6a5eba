// Figures as SVG: panels one above the other over one axis, with attributes only, so that what is taken away is what is
// seen and no style has to be allowed.
import { axisBottom, axisLeft, type Axis } from 'd3-axis';
import { scaleLinear, scaleLog, type NumberValue, type ScaleContinuousNumeric } from 'd3-scale';
import { select, type Selection } from 'd3-selection';
import { say } from './elements';

export interface Line {
  label: string;
  x: Float64Array;
  y: Float64Array;
  /** Which of the palette's series; -1 is the neutral one. */
  series: number;
  /** Both there where the values are open within limits. */
  lower?: Float64Array | undefined;
  upper?: Float64Array | undefined;
}

export interface Panel {
  heading: string;
  remark?: string;
  kind: 'linear' | 'log';
  /** Of the panel's height, in parts of the first one's. */
  share: number;
  lines: Line[];
  /** The axis reaches at least so far. */
  least: [number, number] | null;
  /** The axis shows no less than this much. */
  leastRange: number;
  zero?: boolean;
  /** Rows of names of upright lines that stand above the curves. */
  names?: number;
}

/** An upright line with a name. */
export interface Upright {
  x: number;
  label: string;
  kind: 'anchor' | 'source' | 'cursor';
}

export interface Drawing {
  xLabel: string;
  xRange: [number, number];
  panels: Panel[];
  uprights: Upright[];
  /** Only what is taken away has these: the page says them. */
  title?: string;
  subtitle?: string;
  caption?: string;
}

export interface Palette {
  paper: string;
  text: string;
  quiet: string;
  grid: string;
  axis: string;
  series: readonly string[];
}

const series = ['#0072b2', '#c85500', '#008560', '#b0558a', '#a86f00', '#2f83b8', '#807510', '#5a5a5a'];
const darkSeries = ['#58b2ec', '#f28d4c', '#3fcfa0', '#e59ac6', '#f3b33c', '#93d0f5', '#d6ca57', '#c9c9c9'];
export const light: Palette = {
  paper: '#fffdf8', text: '#1b1f24', quiet: '#565e68', grid: '#e3e0d8', axis: '#7d858f', series,
};
export const dark: Palette = {
  paper: '#1a1e22', text: '#e9e6df', quiet: '#a8afb7', grid: '#2c3238', axis: '#858e97', series: darkSeries,
};

/** Lines differ without colour, too. */
const dashes = ['', '7 3', '2 3', '10 3 2 3', '4 2', '12 4', '1 2', '6 2 1 2'];

const font = 'system-ui, "DejaVu Sans", sans-serif';
const left = 46;
const right = 14;

type Scale = ScaleContinuousNumeric<number, number>;
type Group = Selection<SVGGElement, unknown, null, undefined>;

function textOfNumber(value: number): string {
  if (value >= 1000) return `${Number((value / 1000).toPrecision(4))}k`;
  return String(Number(value.toPrecision(4)));
}

/** Times the powers of ten: as many as there is room for. */
function logTicks([low, high]: [number, number], room: number): number[] {
  const decades = Math.log10(high / low);
  const choices: [number, number[]][] = [[0.35, [1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9]], [1.2, [1, 2, 3, 4, 5, 7]], [2.2, [1, 2, 3, 5]], [90, [1, 2, 5]]];
  const steps = decades * 90 > room ? (decades * 34 < room ? [1, 3] : [1]) : choices.find(([most]) => decades < most)![1];
  const ticks: number[] = [];
  for (let power = Math.floor(Math.log10(low)); power <= Math.ceil(Math.log10(high)); ++power)
    for (const step of steps) {
      const tick = step * 10 ** power;
      if (tick >= low * 0.999 && tick <= high * 1.001) ticks.push(Number(tick.toPrecision(4)));
    }
  return ticks;
}

/** The extremes of what is drawn, limits included. */
function extremes(panel: Panel): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (const one of panel.lines)
    for (const values of [one.y, one.lower, one.upper]) {
      if (!values) continue;
      for (const value of values) {
        if (value < low) low = value;
        if (value > high && value < Infinity) high = value;
      }
    }
  return low <= high ? [low, high] : [0, 1];
}

function linearRange(panel: Panel): [number, number] {
  let [low, high] = extremes(panel);
  if (panel.least) {
    low = Math.min(low, panel.least[0]);
    high = Math.max(high, panel.least[1]);
  }
  if (high - low < panel.leastRange) {
    const middle = (low + high) / 2;
    low = middle - panel.leastRange / 2;
    high = middle + panel.leastRange / 2;
  }
  const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100].find((one) => (high - low) / one <= 8) ?? 200;
  return [Math.floor(low / step - 0.05) * step, Math.ceil(high / step + 0.05) * step];
}

function logRange(panel: Panel): [number, number] {
  const [low, high] = extremes(panel);
  const floor = Math.max(low, 1e-6) / 1.08;
  const top = high * 1.08 * (high / floor) ** (0.09 * (panel.names ?? 0));
  return top / floor < 2 ? [floor / 1.5, floor * 3] : [floor, top];
}

/** Only where it changes: an attribute that is set again is laid out again. */
function set(node: Element, attributes: Record<string, string | number | null>): void {
  for (const [name, value] of Object.entries(attributes)) {
    const text = value === null ? null : String(value);
    if (node.getAttribute(name) === text) continue;
    if (text === null) node.removeAttribute(name);
    else node.setAttribute(name, text);
  }
}

/** The group's child of that place in the order, made where it is not there yet. */
function child(parent: Element, place: number, name: string): SVGElement {
  return (parent.children[place] ?? parent.appendChild(document.createElementNS('http://www.w3.org/2000/svg', name))) as SVGElement;
}

function shorten(parent: Element, count: number): void {
  while (parent.children.length > count) parent.lastChild!.remove();
}

const tenth = (value: number) => Math.round(value * 10) / 10;

/** What a path was drawn of: the same arrays on the same axes are the same path. */
interface Seen {
  key: string;
  arrays: (Float64Array | undefined)[];
}

/** One panel's nodes, kept while it is drawn again and again. */
class PanelNodes {
  readonly group: Group;
  private readonly grid: Group;
  private readonly bands: SVGGElement;
  private readonly curves: SVGGElement;
  private readonly names: SVGGElement;
  private readonly heading: SVGTextElement;
  private readonly seen = new WeakMap<Element, Seen>();
  private axisKey = '';
  private legendKey = '';
  private places: string[] = [];
  private placed: Seen = { key: '', arrays: [] };
  private y: Scale = scaleLinear();

  constructor(root: Selection<SVGSVGElement, unknown, null, undefined>) {
    this.group = root.append('g');
    this.grid = this.group.append('g');
    this.bands = this.group.append('g').node()!;
    this.curves = this.group.append('g').node()!;
    this.heading = this.group.append('text').node()!;
    this.names = this.group.append('g').node()!;
  }

  draw(panel: Panel, x: Scale, top: number, height: number, palette: Palette, xTicks: number[]): void {
    const range = panel.kind === 'log' ? logRange(panel) : linearRange(panel);
    const width = x.range()[1]! - x.range()[0]!;
    const key = [range, top, height, width, palette.paper, x.domain().join(), xTicks.join()].join('|');
    if (key !== this.axisKey) {
      this.axisKey = key;
      this.group.attr('transform', `translate(0 ${top})`);
      this.y = (panel.kind === 'log' ? scaleLog() : scaleLinear()).domain(range).range([height, 0]);
      this.drawGrid(panel, range, x, height, palette, xTicks);
    }
    this.drawHeading(panel, palette, width);
    this.drawLines(panel, x, palette);
  }

  at(value: number): number {
    return this.y(value);
  }

  private drawGrid(panel: Panel, range: [number, number], x: Scale, height: number, palette: Palette, xTicks: number[]): void {
    this.grid.selectAll('*').remove();
    const [x0, x1] = x.range() as [number, number];
    const ticks = panel.kind === 'log' ? logTicks(range, height * 2.2) : this.y.ticks(Math.max(3, height / 32));
    const yAxis = axisLeft(this.y).tickValues(ticks).tickFormat((value) => textOfNumber(Number(value)).replace('-', '−')).tickSize(-(x1 - x0)).tickPadding(6);
    const xAxis = axisBottom(x).tickValues(xTicks).tickFormat(() => '').tickSize(height);
    paint(this.grid.append('g'), xAxis, palette);
    paint(this.grid.append('g').attr('transform', `translate(${x0} 0)`), yAxis, palette);
    this.grid.append('rect').attr('x', x0).attr('y', 0).attr('width', x1 - x0).attr('height', height).attr('fill', 'none').attr('stroke', palette.axis).attr('stroke-width', 0.8);
    if (panel.zero && range[0] < 0 && range[1] > 0)
      this.grid.append('line').attr('x1', x0).attr('x2', x1).attr('y1', this.y(0)).attr('y2', this.y(0)).attr('stroke', palette.axis);
  }

  private drawHeading(panel: Panel, palette: Palette, width: number): void {
    const key = [panel.heading, panel.remark, panel.lines.map((one) => one.label + one.series), width, palette.paper].join('|');
    if (key === this.legendKey) return;
    this.legendKey = key;
    set(this.heading, { x: left, y: 11 - headingHeight(panel, width), fill: palette.text, 'font-size': 12, 'font-weight': 600 });
    say(this.heading, panel.heading + (panel.remark ? ` (${panel.remark})` : ''));
    let used = 0;
    legendRows(panel, width).forEach((row, i, rows) => {
      const y = -7 - 16 * (rows.length - 1 - i);
      for (const { one, label, x } of row) {
        set(child(this.names, used++, 'line'), { x1: x, x2: x + 18, y1: y - 4, y2: y - 4, stroke: colour(one, palette), 'stroke-width': 2, 'stroke-dasharray': dash(one) });
        const name = child(this.names, used++, 'text');
        set(name, { x: x + 22, y, fill: palette.text, 'font-size': 11 });
        say(name, label);
      }
    });
    shorten(this.names, used);
  }

  private drawLines(panel: Panel, x: Scale, palette: Palette): void {
    const bands = panel.lines.filter((one) => one.lower && one.upper);
    bands.forEach((one, i) => {
      const path = child(this.bands, i, 'path');
      set(path, { stroke: 'none', fill: colour(one, palette), 'fill-opacity': 0.18 });
      if (this.isNew(path, one.x, one.lower, one.upper)) path.setAttribute('d', this.band(one, x));
    });
    shorten(this.bands, bands.length);
    panel.lines.forEach((one, i) => {
      const path = child(this.curves, i, 'path');
      set(path, { fill: 'none', 'stroke-width': 2, 'stroke-linejoin': 'round', stroke: colour(one, palette), 'stroke-dasharray': dash(one) });
      if (this.isNew(path, one.x, one.y)) path.setAttribute('d', this.line(panel, one, x));
    });
    shorten(this.curves, panel.lines.length);
  }

  /** Whether a path of these arrays on these axes is not there yet. */
  private isNew(path: Element, ...arrays: Seen['arrays']): boolean {
    const seen = this.seen.get(path);
    if (seen?.key === this.axisKey && arrays.every((one, i) => one === seen.arrays[i])) return false;
    this.seen.set(path, { key: this.axisKey, arrays });
    return true;
  }

  /** The places of these values along the axis, as a path has them. */
  private along(values: Float64Array, x: Scale): string[] {
    if (this.placed.key !== this.axisKey || this.placed.arrays[0] !== values) {
      this.placed = { key: this.axisKey, arrays: [values] };
      this.places = Array.from(values, (value) => String(tenth(x(value))));
    }
    return this.places;
  }

  private line(panel: Panel, one: Line, x: Scale): string {
    const at = this.along(one.x, x);
    let path = '';
    let step = 'M';
    one.y.forEach((value, i) => {
      const within = Number.isFinite(value) && (panel.kind === 'linear' || value > 0);
      if (within) path += `${step}${at[i]!},${tenth(this.y(value))}`;
      step = within ? 'L' : 'M';
    });
    return path;
  }

  private band(one: Line, x: Scale): string {
    const at = this.along(one.x, x);
    let path = '';
    for (let i = 0; i < at.length; ++i) path += `${i === 0 ? 'M' : 'L'}${at[i]!},${tenth(this.y(one.lower![i]!))}`;
    for (let i = at.length - 1; i >= 0; --i) path += `L${at[i]!},${tenth(this.y(one.upper![i]!))}`;
    return path + 'Z';
  }
}

function colour(one: Line, palette: Palette): string {
  return one.series < 0 ? palette.text : palette.series[one.series % palette.series.length]!;
}

function dash(one: Line): string | null {
  return one.series < 0 ? null : dashes[one.series % dashes.length]! || null;
}

/** About as wide as common sans-serif fonts are; on the wide side. */
function widthOf(text: string, size: number): number {
  return [...text].reduce((sum, letter) => sum + (letter.codePointAt(0)! > 0x2e80 ? 1 : 0.58), 0) * size;
}

function cut(text: string, room: number): string {
  if (widthOf(text, 11) <= room) return text;
  const letters = [...text];
  while (letters.length > 3 && widthOf(letters.join('') + '…', 11) > room) letters.pop();
  return letters.join('') + '…';
}

/** Lines of at most that width. */
function wrapped(text: string, room: number, size: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1];
    if (last !== undefined && widthOf(last + ' ' + word, size) <= room) lines[lines.length - 1] = last + ' ' + word;
    else lines.push(word);
  }
  return lines;
}

interface Legend {
  one: Line;
  label: string;
  x: number;
}

/** The names of the lines, as many in a row as there is room for. */
function legendRows(panel: Panel, width: number): Legend[][] {
  const rows: Legend[][] = [];
  let x = left;
  for (const one of panel.lines.filter((each) => each.label !== '')) {
    const label = cut(one.label, width - 40);
    const size = 34 + widthOf(label, 11);
    if (rows.length === 0 || x + size > left + width + 12) {
      rows.push([]);
      x = left;
    }
    rows[rows.length - 1]!.push({ one, label, x });
    x += size;
  }
  return rows;
}

/** The heading and the rows of names above a panel of that inner width. */
function headingHeight(panel: Panel, width: number): number {
  return 18 + 16 * legendRows(panel, width).length + (panel.lines.some((one) => one.label !== '') ? 2 : 0);
}

function paint(group: Group, axis: Axis<NumberValue>, palette: Palette): void {
  group.call(axis as (selection: Group) => void);
  group.select('.domain').remove();
  group.selectAll('line').attr('stroke', palette.grid);
  group.selectAll('text').attr('fill', palette.quiet).attr('font-size', 11);
  group.attr('font-family', font);
}

/** A figure that is drawn anew at every move: what did not change stays. */
export class Figure {
  private readonly root: Selection<SVGSVGElement, unknown, null, undefined>;
  private readonly words: Group;
  private panels: PanelNodes[] = [];
  private readonly ground: Selection<SVGRectElement, unknown, null, undefined>;
  private readonly axis: Group;
  private readonly marks: Group;
  private axisKey = '';
  private x: Scale = scaleLog();
  private plotTop = 0;
  private plotBottom = 0;

  constructor(svg: SVGSVGElement, private readonly unit = 170) {
    this.root = select<SVGSVGElement, unknown>(svg) as never;
    this.root.attr('font-family', font).attr('xmlns', 'http://www.w3.org/2000/svg');
    this.ground = this.root.append('rect').attr('x', 0).attr('y', 0);
    this.words = this.root.append('g');
    this.axis = this.root.append('g');
    this.marks = this.root.append('g');
  }

  draw(drawing: Drawing, width: number, palette: Palette): void {
    while (this.panels.length > drawing.panels.length) this.panels.pop()!.group.remove();
    while (this.panels.length < drawing.panels.length) this.panels.push(new PanelNodes(this.root));
    if (this.root.node()!.lastChild !== this.marks.node()) this.marks.raise();
    this.x = scaleLog().domain(drawing.xRange).range([left, width - right]);
    const xTicks = logTicks(drawing.xRange, width);
    const inner = width - left - right;
    let top = this.drawWords(drawing, width, palette) + 4;
    this.plotTop = top + headingHeight(drawing.panels[0]!, inner);
    drawing.panels.forEach((panel, i) => {
      const height = Math.round(this.unit * panel.share);
      top += headingHeight(panel, inner);
      this.panels[i]!.draw(panel, this.x, top, height, palette, xTicks);
      top += height + 8;
    });
    this.plotBottom = top - 8;
    const bottom = this.drawAxis(drawing, width, palette, xTicks);
    this.drawMarks(drawing, palette);
    const height = bottom + this.drawCaption(drawing, width, bottom, palette);
    set(this.root.node()!, { viewBox: `0 0 ${width} ${height}`, width, height });
    set(this.ground.node()!, { width, height, fill: palette.paper });
  }

  /** The value on the x axis at a place in the figure's own units. */
  valueAt(x: number): number {
    return this.x.invert(x);
  }

  private drawWords(drawing: Drawing, width: number, palette: Palette): number {
    this.words.selectAll('*').remove();
    let at = 0;
    const write = (text: string | undefined, size: number, weight: number, fill: string) => {
      if (!text) return;
      for (const one of wrapped(text, width - left - right, size)) {
        at += size * 1.3;
        this.words.append('text').attr('x', left).attr('y', at).attr('font-size', size).attr('font-weight', weight).attr('fill', fill).text(one);
      }
      at += 3;
    };
    if (drawing.title) at += 8;
    write(drawing.title, 17, 600, palette.text);
    write(drawing.subtitle, 13, 400, palette.quiet);
    return at;
  }

  private drawCaption(drawing: Drawing, width: number, bottom: number, palette: Palette): number {
    if (!drawing.caption) return 0;
    const lines = wrapped(drawing.caption, width - left - right, 11);
    lines.forEach((one, i) => this.words.append('text').attr('x', left).attr('y', bottom + 12 + i * 14).attr('font-size', 11).attr('fill', palette.quiet).text(one));
    return lines.length * 14 + 8;
  }

  private drawAxis(drawing: Drawing, width: number, palette: Palette, ticks: number[]): number {
    const key = [drawing.xLabel, drawing.xRange, width, this.plotBottom, palette.paper].join('|');
    if (key !== this.axisKey) {
      this.axisKey = key;
      this.axis.selectAll('*').remove();
      const axis = axisBottom(this.x).tickValues(ticks).tickFormat((value) => textOfNumber(Number(value))).tickSize(0).tickPadding(7);
      paint(this.axis.append('g').attr('transform', `translate(0 ${this.plotBottom})`), axis, palette);
      this.axis.append('text').attr('x', (left + width - right) / 2).attr('y', this.plotBottom + 34).attr('text-anchor', 'middle').attr('font-size', 11).attr('fill', palette.quiet).text(drawing.xLabel);
    }
    return this.plotBottom + 42;
  }

  private drawMarks(drawing: Drawing, palette: Palette): void {
    const [low, high] = drawing.xRange;
    const shown = drawing.uprights.filter((one) => one.x >= low && one.x <= high);
    const marks = this.marks.node()!;
    const [x0, x1] = this.x.range() as [number, number];
    shown.forEach((one, i) => {
      const group = child(marks, i, 'g');
      const x = this.x(one.x);
      const late = x > (x0 + 2 * x1) / 3;
      set(group, { transform: `translate(${tenth(x)} 0)` });
      set(child(group, 0, 'line'), { y1: this.plotTop, y2: this.plotBottom, stroke: one.kind === 'cursor' ? palette.text : palette.axis, 'stroke-dasharray': one.kind === 'cursor' ? null : '3 3', 'stroke-width': one.kind === 'anchor' ? 1.4 : 1 });
      const name = child(group, 1, 'text');
      set(name, { 'font-size': 11, fill: palette.quiet, stroke: palette.paper, 'stroke-width': 4, 'stroke-linejoin': 'round', 'paint-order': 'stroke', y: this.plotTop + 13 + (i % 6) * 13, 'text-anchor': late ? 'end' : 'start', x: late ? -4 : 4 });
      say(name, one.label);
    });
    shorten(marks, shown.length);
  }
}
