import './style/base.css';
import { mount, unmount } from 'svelte';
import { registerSW } from 'virtual:pwa-register';

// One page, several faces; each is fetched when it is opened, so that the phone never waits for the desk.
const page = document.getElementById('page');
if (!page) throw new Error('index.html has no #page');

type Face = 'phone' | 'desk' | 'print';

function wanted(): Face {
  const hash = location.hash;
  if (/^#\/print(\/|$)/.test(hash)) return 'print';
  if (/^#\/phone([/?]|$)/.test(hash)) return 'phone';
  if (hash.startsWith('#/')) return 'desk';
  return window.matchMedia('(max-width: 700px)').matches ? 'phone' : 'desk';
}

let shown: Face | null = null;
let face: ReturnType<typeof mount> | null = null;

async function show(): Promise<void> {
  const next = wanted();
  if (next === shown) return;
  shown = next;
  const part =
    next === 'phone'
      ? await import('./phone/Phone.svelte')
      : next === 'print'
        ? await import('./print/Print.svelte')
        : await import('./desk/Desk.svelte');
  if (shown !== next || !page) return;
  if (face) await unmount(face);
  page.replaceChildren();
  document.body.className = next;
  face = mount(part.default, { target: page });
}

window.addEventListener('hashchange', () => void show());
void show();
if ('serviceWorker' in navigator) registerSW({ immediate: true });
