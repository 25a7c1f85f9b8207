// What plan and side view share: where values lie on a drawing, and how a policy is drawn.
import type { Flight, Rows, Scale, Stroke } from './api'

export type Place = [number, number]

/** Where a value lies in a panel, px. */
export const place = (scale: Scale, x: number, y: number): Place => {
  const [left, top, right, bottom] = scale.box_px
  return [
    left + ((x - scale.x[0]) / (scale.x[1] - scale.x[0])) * (right - left),
    bottom - ((y - scale.y[0]) / (scale.y[1] - scale.y[0])) * (bottom - top),
  ]
}

/** Row in force at a time: the last one not later, at least the first. */
export const row_at = (rows: Rows, time_s: number) => {
  let low = 0
  let high = rows.time_s.length - 1
  while (low < high) {
    const middle = (low + high + 1) >> 1
    if ((rows.time_s[middle] ?? Infinity) <= time_s + 1e-6) low = middle
    else high = middle - 1
  }
  return low
}

type Column = 'x_m' | 'y_m' | 'along_m' | 'height_m'

/** A value at a time, on a straight line between rows. */
export const value_at = (rows: Rows, column: Column, time_s: number) => {
  const row = row_at(rows, time_s)
  const here = rows[column][row] ?? NaN
  const next = rows[column][row + 1]
  const from = rows.time_s[row] ?? NaN
  const to = rows.time_s[row + 1]
  if (next === undefined || to === undefined || time_s <= from) return here
  return here + ((next - here) * (time_s - from)) / (to - from)
}

/** Time that is worth watching, s after take-off. */
export const span = (flight: Flight): [number, number] => {
  const times = flight.policies.flatMap(({ rows }) => [rows.time_s[0], rows.time_s.at(-1)]).filter(time => time !== undefined)
  return times.length === 0 ? [0, 1] : [Math.min(...times), Math.max(...times)]
}

/** The outline of a mark around 0, 0. */
const outline = (shape: string, r: number) => {
  switch (shape) {
    case 'square': case 'frame': return `M${-r} ${-r}H${r}V${r}H${-r}z`
    case 'up': case 'hollow': return `M0 ${-1.2 * r}L${1.15 * r} ${0.9 * r}H${-1.15 * r}z`
    case 'down': return `M0 ${1.2 * r}L${1.15 * r} ${-0.9 * r}H${-1.15 * r}z`
    case 'diamond': case 'lozenge': return `M0 ${-1.35 * r}L${1.35 * r} 0L0 ${1.35 * r}L${-1.35 * r} 0z`
    case 'cross': return `M${-r} ${-r}L${r} ${r}M${r} ${-r}L${-r} ${r}`
    case 'plus': return `M${-r} 0H${r}M0 ${-r}V${r}`
    default: return `M${-r} 0a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0z`
  }
}

export const Mark = ({ stroke, at: [x, y], r }: { stroke: Stroke; at: Place; r: number }) => {
  const open = ['cross', 'plus', 'ring', 'frame', 'hollow'].includes(stroke.shape)
  const ink = `var(${stroke.ink})`
  return (
    <path d={outline(stroke.shape, r)} transform={`translate(${x.toFixed(1)} ${y.toFixed(1)})`} fill={open ? 'var(--paper)' : ink}
      stroke={open ? ink : 'var(--paper)'} stroke-width={open ? 2.2 : 1.2} />
  )
}

const dashes = ({ dash_px: [on, off] }: Stroke) => (off > 0 ? `${on} ${off}` : 'none')

/** A line and its mark, as in the legend. */
export const Sample = ({ stroke }: { stroke: Stroke }) => (
  <svg class="sample" viewBox="0 0 34 12" width="34" height="12" aria-hidden="true">
    <path d="M1 6H33" stroke={`var(${stroke.ink})`} stroke-width="2.4" stroke-dasharray={dashes(stroke)} />
    <Mark stroke={stroke} at={[17, 6]} r={4} />
  </svg>
)

interface Ways { flight: Flight; strokes: Stroke[]; scale: Scale; of: [Column, Column]; time_s: number }

/** The ways of all policies: what they share until the loss, each from there on, strong as far as it is flown, and where each is. */
export const Tracks = ({ flight, strokes, scale, of, time_s }: Ways) => {
  const line = (rows: Rows, from: number, to: number) => {
    const points = rows.time_s.flatMap((at, row) => {
      const [x, y] = of.map(column => rows[column][row])
      return at >= from - 1e-6 && at <= to + 1e-6 && typeof x === 'number' && typeof y === 'number' ? [place(scale, x, y)] : []
    })
    return points.length < 2 ? '' : `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join('L')}`
  }
  const here = (rows: Rows, at: number) => place(scale, value_at(rows, of[0], at), value_at(rows, of[1], at))
  const lost_s = flight.lost_at_s ?? Infinity
  const tracks = flight.policies.flatMap(({ rows }, index) => {
    const stroke = strokes[index]
    return stroke ? [{ rows, stroke }] : []
  })
  const first = tracks[0]
  return (
    <g fill="none" aria-hidden="true">
      {first && <path class="shared" d={line(first.rows, -Infinity, lost_s)} />}
      {tracks.map(({ rows, stroke }) => (
        <g stroke={`var(${stroke.ink})`} stroke-width="2.2" stroke-dasharray={dashes(stroke)} stroke-linejoin="round">
          <path class="ahead" d={line(rows, lost_s, Infinity)} />
          <path class="flown" d={line(rows, lost_s, time_s)} />
        </g>
      ))}
      {flight.lost_at_s !== null && first && <Cross at={here(first.rows, flight.lost_at_s)} />}
      {/* The first policy on top: it stands first in every list. */}
      {[...tracks].reverse().map(({ rows, stroke }) => <Mark stroke={stroke} at={here(rows, time_s)} r={5} />)}
    </g>
  )
}

/** Where the link was called lost, on paper, so that it reads on any line. */
export const Cross = ({ at: [x, y] }: { at: Place }) => {
  const d = `M${(x - 5).toFixed(1)} ${(y - 5).toFixed(1)}l10 10m0 -10l-10 10`
  return <><path d={d} stroke="var(--paper)" stroke-width="5" /><path d={d} stroke="var(--ink)" stroke-width="2.2" /></>
}
