import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

interface Props {
  title: string;
  children: ComponentChildren;
  onClose(): void;
}

/** A dialog that holds the focus; Escape closes it, and the focus goes back to where it was. */
export function Modal({ title, children, onClose }: Props) {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const before = document.activeElement;
    dialog.current?.showModal();
    return () => {
      if (before instanceof HTMLElement && before.isConnected) before.focus({ preventScroll: true });
    };
  }, []);
  return (
    <dialog ref={dialog} aria-labelledby="modal-title" onClose={onClose}>
      <div class="stack">
        <h2 id="modal-title" tabIndex={-1}>
          {title}
        </h2>
        {children}
      </div>
    </dialog>
  );
}
