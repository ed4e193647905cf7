import { useLayoutEffect, useRef } from 'preact/hooks';

/** A car number as high as its box; four characters are drawn narrower rather than lower. */
export function NumberView({ number }: { number: string }) {
  const box = useRef<HTMLSpanElement>(null);
  const inner = useRef<HTMLSpanElement>(null);
  useLayoutEffect(() => {
    const fit = () => {
      if (box.current === null || inner.current === null) return;
      const room = box.current.clientWidth / Math.max(1, inner.current.scrollWidth);
      inner.current.style.transform = room < 1 ? `scaleX(${room})` : '';
    };
    fit();
    addEventListener('resize', fit);
    return () => removeEventListener('resize', fit);
  }, [number]);
  return (
    <span class="big-number" ref={box}>
      <span class="digits number" ref={inner}>
        {[...number].map((character, place) => (
          // A number has no other order than its own.
          <span key={place} class={character === '0' ? 'zero' : undefined}>
            {character}
          </span>
        ))}
      </span>
    </span>
  );
}
