/** Where this page stands: the parts of the hash after the face, `#/phone/yard/7` is `['yard', '7']`. */
function parts(): string[] {
  return location.hash
    .replace(/^#\/?/, '')
    .split('?')[0]!
    .split('/')
    .filter(Boolean)
    .map(decodeURIComponent);
}

class Route {
  parts = $state(parts());

  constructor() {
    window.addEventListener('hashchange', () => {
      this.parts = parts();
    });
  }
}

export const route = new Route();

/** An address inside the page; each part may hold any letters. */
export function link(...to: string[]): string {
  return `#/${to.map(encodeURIComponent).join('/')}`;
}

export function go(...to: string[]): void {
  location.hash = link(...to);
}
