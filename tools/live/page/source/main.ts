import { at, say } from './elements';
import { given } from './given';
import { Library, unpacked } from './library';
import { Measuring } from './measuring';
import { Page } from './page';

async function start(): Promise<void> {
  say(at('state'), 'Starting ...');
  const library = await Library.start(await unpacked(document.getElementById('library')!.textContent!));
  at('live').hidden = false;
  const page = new Page(library, given());
  page.measuring = new Measuring(library, (files) => page.take(files));
  at('start').hidden = true;
  document.documentElement.dataset['started'] = String(Math.round(performance.now()));
}

start().catch((error: unknown) => {
  at('live').hidden = true;
  at('start').hidden = false;
  say(at('state'), `The sliders cannot start here (${error instanceof Error ? error.message : String(error)}); the answer without them is on this page.`);
});
