import { at, say } from './elements';
import { given } from './given';
import { Library, unpacked } from './library';
import { Page } from './page';

async function start(): Promise<void> {
  say(at('state'), 'Starting ...');
  const library = await Library.start(await unpacked(at('library').textContent!));
  at('live').hidden = false;
  new Page(library, given());
  at('start').hidden = true;
  document.documentElement.dataset['started'] = String(Math.round(performance.now()));
}

start().catch((error: unknown) => {
  at('live').hidden = true;
  at('start').hidden = false;
  say(at('state'), `The sliders cannot start here (${error instanceof Error ? error.message : String(error)}); what stands here is the answer that the page starts with.`);
});
