import type { ComponentChildren } from 'preact';
import './car-plan.css';

/** The four wheels where they sit, seen from above. */
export const CORNERS = ['FL', 'FR', 'RL', 'RR'] as const;
export type Corner = (typeof CORNERS)[number];

/** The corner that a position belongs to: `FL.in` is at `FL`; undefined for what sits at no wheel. */
export function cornerOf(position: string): Corner | undefined {
  return CORNERS.find((corner) => position === corner || position.startsWith(`${corner}.`));
}

/** Whether all of these positions sit at wheels, so that a plan of the car can hold them. */
export const isAtWheels = (positions: readonly string[]): boolean =>
  positions.length > 0 && positions.every((position) => cornerOf(position) !== undefined);

interface CarPlanProps {
  /** what stands at the front end of the drawing, for who looks at it */
  front: string;
  /** what is at a corner; nothing where the car has none of it there */
  corner(corner: Corner): ComponentChildren;
}

/** A plan view of the car, nose up, with what belongs to each wheel beside it. The order in the page is FL FR RL RR. */
export function CarPlan({ front, corner }: CarPlanProps) {
  return (
    <div class="car-plan">
      {CORNERS.map((one) => (
        <div key={one} class={`car-plan-corner car-plan-${one.toLowerCase()}`}>
          {corner(one)}
        </div>
      ))}
      <div class="car-plan-body" aria-hidden="true">
        <span>{front}</span>
        <Outline />
      </div>
    </div>
  );
}

/** Body, glass and wheels, nose up. */
function Outline() {
  return (
    <svg viewBox="0 0 60 140" focusable="false">
      <path class="car-plan-wheel" d="M2 22h8v24H2zM50 22h8v24h-8zM2 94h8v24H2zM50 94h8v24h-8z" />
      <path class="car-plan-shell" d="M12 30Q12 4 30 4T48 30V118Q48 136 30 136T12 118Z" />
      <path class="car-plan-glass" d="M17 52Q30 44 43 52L40 64H20ZM20 104H40L42 114Q30 120 18 114Z" />
      <path class="car-plan-arrow" d="M30 14l6 9H24z" />
    </svg>
  );
}
