// The flight from the side: height over the distance along the line from take-off to the place of the loss.
import type { Flight, Scale, Start } from './api'
import { place, Tracks } from './draw'
import { number } from './words'

const WIDE = 420
const HIGH = 288
const BOX: Scale['box_px'] = [44, 26, WIDE - 10, HIGH - 44]

/** Round numbers, about so many, that lie in a range. */
const ticks = (from: number, to: number, about: number) => {
  const rough = (to - from) / about
  const ten = 10 ** Math.floor(Math.log10(rough))
  const step = ten * ([1, 2, 5].find(times => times * ten >= rough) ?? 10)
  const first = Math.ceil(from / step - 1e-9)
  return { step, values: Array.from({ length: Math.floor(to / step + 1e-9) - first + 1 }, (_, index) => (first + index) * step) }
}

export const Side = ({ start, flight, time_s }: { start: Start; flight: Flight; time_s: number }) => {
  const heights = [0, ...flight.cut.points.map(([, surface_m]) => surface_m), ...flight.policies.flatMap(({ rows }) => rows.height_m)]
  const alongs = flight.cut.points.map(([along_m]) => along_m)
  const [least, most] = [Math.min(...heights), Math.max(...heights)]
  const { step } = ticks(least, Math.max(most, least + 1), 4)
  // Room below for marks on the ground; a round number on top, so that the scale seldom changes while a slider moves.
  const high = step * Math.ceil(most / step + 0.05)
  const scale: Scale = { box_px: BOX, x: [Math.min(...alongs), Math.max(...alongs)], y: [least - 0.06 * (high - least), high] }
  const [left, top, right, bottom] = BOX
  const across = ticks(scale.x[0], scale.x[1], 5).values
  const up = ticks(scale.y[0], scale.y[1], 4).values
  const ground = flight.cut.points.map(([along_m, surface_m]) => place(scale, along_m, surface_m).map(px => px.toFixed(1)).join(' ')).join('L')
  const [home_x, home_y] = place(scale, 0, 0)
  const ends = flight.policies.map(({ name, outcome }) => `${name}: ${outcome}.`).join(' ')
  return (
    <svg class="side" viewBox={`0 0 ${WIDE} ${HIGH}`} role="img" aria-label={`Height over distance of flight ${flight.flight}. ${ends}`}>
      <g class="axes" aria-hidden="true">
        <text x={left - 34} y={top - 12}>Height above the take-off spot / m</text>
        {up.map(value => <g>
          <path class="grid" d={`M${left} ${place(scale, 0, value)[1].toFixed(1)}H${right}`} />
          <text class="end" x={left - 6} y={place(scale, 0, value)[1] + 4}>{number(value)}</text>
        </g>)}
        {across.map(value => <g>
          <path class="tick" d={`M${place(scale, value, 0)[0].toFixed(1)} ${bottom}v5`} />
          <text class="middle" x={place(scale, value, 0)[0]} y={bottom + 18}>{number(value)}</text>
        </g>)}
        <text class="middle" x={(left + right) / 2} y={HIGH - 8}>Along the line from take-off to the loss / m</text>
      </g>
      <clipPath id="in-side"><rect x={left} y={top} width={right - left} height={bottom - top} /></clipPath>
      <g clip-path="url(#in-side)">
        <path class="ground" d={`M${left} ${bottom}L${ground}L${right} ${bottom}z`} />
        <path class="surface" d={`M${ground}`} />
        <circle class="home" cx={home_x} cy={home_y} r="5" />
        <Tracks flight={flight} strokes={start.policies} scale={scale} of={['along_m', 'height_m']} time_s={time_s} />
      </g>
      <path class="frame" d={`M${left} ${top}V${bottom}H${right}`} aria-hidden="true" />
    </svg>
  )
}
