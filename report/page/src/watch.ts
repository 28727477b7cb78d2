// A page that `proveout watch` wrote: it looks whether a newer one lies in its place and loads that;
// setup, moment and eye stay what they were.
import type { Bench, Kept } from './bench.ts';
import { el } from './dom.ts';

const store = `proveout ${location.pathname}`;
const often = 700; // ms
const mostFailures = 5; // in a row: nobody watches any more

declare global {
  interface Window {
    proveoutPage?: (version: string) => void;
  }
}

// What the page before this one kept; null: there was none. sessionStorage may be shut off.
export function keptByLast(): Kept | null {
  try {
    const text = sessionStorage.getItem(store);
    sessionStorage.removeItem(store);
    return text ? (JSON.parse(text) as Kept) : null;
  } catch {
    return null;
  }
}

export function lookForNewer(version: string, bench: () => Bench | null) {
  window.proveoutPage = (now) => {
    if (now === version) return;
    try {
      const kept = bench()?.kept;
      if (kept) sessionStorage.setItem(store, JSON.stringify(kept));
    } catch {
      // The new page opens as a first one does.
    }
    location.reload();
  };
  let failures = 0;
  const look = () => {
    // Another name each time, so that no kept copy answers.
    const script = el('script', { src: `page-version.js?${Date.now()}` });
    const next = () => {
      script.remove();
      if (failures < mostFailures) setTimeout(look, often);
    };
    script.addEventListener('load', () => {
      failures = 0;
      next();
    });
    script.addEventListener('error', () => {
      failures += 1;
      next();
    });
    document.head.append(script);
  };
  setTimeout(look, often);
}
