// What a reader takes along: the figure, the numbers.
import { download } from './elements';
import { Figure, light, type Drawing } from './figure';

const width = 880;

/** The figure by itself, on white paper, with its title and caption. */
export function svgOf(drawing: Drawing): { text: string; width: number; height: number } {
  const svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  new Figure(svg, 230).draw(drawing, width, { ...light, paper: '#ffffff' });
  const text = new XMLSerializer().serializeToString(svg);
  return { text, width, height: Number(svg.getAttribute('height')) };
}

export function saveSvg(drawing: Drawing, name: string): void {
  download(name + '.svg', svgOf(drawing).text, 'image/svg+xml');
}

export async function savePng(drawing: Drawing, name: string): Promise<void> {
  const { text, width, height } = svgOf(drawing);
  const address = URL.createObjectURL(new Blob([text], { type: 'image/svg+xml' }));
  const image = new Image();
  const loaded = new Promise((resolve, reject) => {
    image.onload = resolve;
    image.onerror = () => reject(new Error('this browser does not draw the figure as a picture; take the SVG'));
  });
  image.src = address;
  await loaded;
  const canvas = document.createElement('canvas');
  canvas.width = 2 * width;
  canvas.height = 2 * height;
  canvas.getContext('2d')!.drawImage(image, 0, 0, canvas.width, canvas.height);
  URL.revokeObjectURL(address);
  const blob = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, 'image/png'));
  if (!blob) throw new Error('this browser makes no PNG here; take the SVG');
  download(name + '.png', blob, 'image/png');
}

/** Columns of equal length; what is not finite stays empty, as in the tables of the commands. */
export function csvOf(columns: readonly (readonly [string, Float64Array])[]): string {
  const rows = [columns.map(([name]) => name).join(',')];
  const count = columns[0]?.[1].length ?? 0;
  for (let i = 0; i < count; ++i) rows.push(columns.map(([, values]) => (Number.isFinite(values[i]!) ? String(values[i]) : '')).join(','));
  return rows.join('\n') + '\n';
}
