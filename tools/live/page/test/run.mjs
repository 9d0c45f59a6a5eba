// The tests of the live page, against the program that wrote it.
// usage: node run.mjs PROGRAM live.html [numbers|words|files|hostile|access|moves|report|firefox|measuring|looks ...]
import { Check, Program, startBrowser } from './browser.mjs';
import { access } from './access.mjs';
import { files } from './files.mjs';
import { firefox } from './firefox.mjs';
import { hostile } from './hostile.mjs';
import { measuring } from './measuring.mjs';
import { moves } from './moves.mjs';
import { numbers, words } from './numbers.mjs';
import { looks } from './looks.mjs';
import { report } from './report.mjs';

const [program, template, ...wanted] = process.argv.slice(2);
if (!template) throw new Error('usage: node run.mjs PROGRAM live.html [TEST ...]');
const tests = { numbers, words, files, hostile, access, moves, report, firefox, measuring };
const chosen = wanted.length > 0 ? wanted : Object.keys(tests);
const native = new Program(program, template);
const browser = await startBrowser();
let failed = 0;
for (const name of chosen) {
  const test = { ...tests, looks }[name];
  if (!test) throw new Error(`there is no test "${name}"; there are ${[...Object.keys(tests), 'looks'].join(', ')}`);
  const check = new Check(name);
  const start = Date.now();
  let said = '';
  try {
    said = (await test({ browser, native, check })) ?? '';
  } catch (error) {
    check.that(false, error.stack);
  }
  console.log(`${check.failures.length === 0 ? 'passed' : 'FAILED'} ${name} (${((Date.now() - start) / 1000).toFixed(1)} s) ${said}`);
  for (const failure of check.failures.slice(0, 12)) console.log('    ' + failure);
  if (check.failures.length > 12) console.log(`    and ${check.failures.length - 12} more`);
  failed += check.failures.length > 0 ? 1 : 0;
}
await browser.close();
native.remove();
process.exit(failed > 0 ? 1 : 0);
