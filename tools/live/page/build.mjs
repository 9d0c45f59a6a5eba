// Makes live.html, the page without its data: bundles the scripts, packs the library, and writes the policy that
// allows these two and nothing else.
// usage: node build.mjs LIBRARY.wasm VERSION live.html
import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';
import { build } from 'esbuild';

const [library, version, page] = process.argv.slice(2);
if (!page) throw new Error('usage: node build.mjs LIBRARY.wasm VERSION live.html');
const here = (name) => new URL(name, import.meta.url);

const bundled = await build({
  entryPoints: [here('source/main.ts').pathname], bundle: true, minify: true, format: 'iife', target: 'es2022', write: false, charset: 'utf8', metafile: true,
});
const script = bundled.outputFiles[0].text.trim();
const style = readFileSync(here('source/style.css'), 'utf8');
if (/<\/(script|style)/i.test(script + style)) throw new Error('the script or the style would end its own element');

/** The packages whose code is in the page, with their licences in full. */
function licences() {
  const packages = new Set(Object.keys(bundled.metafile.inputs).map((file) => /node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(file)?.[1]).filter(Boolean));
  return [...packages].sort().map((name) => {
    const { version } = JSON.parse(readFileSync(here(`node_modules/${name}/package.json`), 'utf8'));
    return `${name} ${version}\n${readFileSync(here(`node_modules/${name}/LICENSE`), 'utf8').trim()}`;
  });
}

/** What is compiled into the library, as Debian's packages state it. */
function libraryLicences() {
  const packages = [
    ['Eigen', 'MPL-2.0; source: https://eigen.tuxfamily.org'],
    ['Boost', 'Boost Software License 1.0'],
    ['fmt', 'MIT, (c) Victor Zverovich and contributors'],
    ['toml++', 'MIT, (c) Mark Gillard'],
    ['musl, libc++ and compiler-rt', 'MIT; Apache-2.0 with LLVM exceptions'],
  ];
  return packages.map(([name, licence]) => `${name} (in the library): ${licence}`);
}

const escaped = (text) => text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
const hash = (text) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
const policy = [
  "default-src 'none'", `script-src ${hash(script)} 'wasm-unsafe-eval'`, `style-src ${hash(style)}`, 'img-src blob:', "base-uri 'none'", "form-action 'none'",
].join('; ');
const parts = {
  POLICY: policy, VERSION: version, STYLE: style, SCRIPT: script,
  LICENCES: escaped([...licences(), ...libraryLicences()].join('\n\n')),
  LIBRARY: gzipSync(readFileSync(library), { level: 9 }).toString('base64'),
};
const html = readFileSync(here('source/page.html'), 'utf8').replace(/@([A-Z]+)@/g, (_, name) => parts[name]);
writeFileSync(page, html);
console.log(`${page}: ${(html.length / 1e6).toFixed(2)} MB, of which the library ${(parts.LIBRARY.length / 1e6).toFixed(2)} MB and the script ${(script.length / 1e3).toFixed(0)} kB`);
