// The site from above, the ways of all policies over it, and the place of the loss as a handle on the planned path.
import { useEffect, useRef } from 'preact/hooks'
import type { TargetedKeyboardEvent, TargetedPointerEvent } from 'preact'
import type { Control, Flight, PathPoint, Start } from './api'
import { place, Tracks } from './draw'
import { number } from './words'

/** Where the path is at a distance along it. */
const on_path = (points: PathPoint[], along_m: number) => {
  const next = Math.max(1, points.findIndex(point => point.along_m >= along_m))
  const [a, b] = [points[next - 1], points[next]]
  if (!a || !b) return { x_m: 0, y_m: 0, height_m: 0 }
  const part = b.along_m > a.along_m ? Math.min(1, Math.max(0, (along_m - a.along_m) / (b.along_m - a.along_m))) : 0
  const between = (of: 'x_m' | 'y_m' | 'height_m') => a[of] + part * (b[of] - a[of])
  return { x_m: between('x_m'), y_m: between('y_m'), height_m: between('height_m') }
}

/** How far along the path lies nearest to a place. Where the path comes by more than once, the part next to `before_m` is meant. */
const nearest = (points: PathPoint[], x_m: number, y_m: number, before_m: number, alike_m: number) => {
  const found = points.slice(1).map((b, index) => {
    const a = points[index] ?? b
    const [dx, dy] = [b.x_m - a.x_m, b.y_m - a.y_m]
    const part = Math.min(1, Math.max(0, ((x_m - a.x_m) * dx + (y_m - a.y_m) * dy) / Math.max(1e-9, dx * dx + dy * dy)))
    const off_m = Math.hypot(a.x_m + part * dx - x_m, a.y_m + part * dy - y_m)
    return { along_m: a.along_m + part * (b.along_m - a.along_m), off_m }
  })
  const least_m = Math.min(...found.map(({ off_m }) => off_m))
  const alike = found.filter(({ off_m }) => off_m <= least_m + alike_m)
  const away = (at: { along_m: number }) => Math.abs(at.along_m - before_m)
  return alike.reduce((best, at) => (away(at) < away(best) ? at : best), alike[0] ?? { along_m: 0, off_m: 0 }).along_m
}

interface PlanProps {
  start: Start
  flight: Flight | null
  time_s: number
  control: Control | undefined
  /** Where the link is cut; null: the handle rests where this flight lost it. */
  cut_m: number | null
  onCut: (along_m: number) => void
}

export const Plan = ({ start, flight, time_s, control, cut_m, onCut }: PlanProps) => {
  const ground = useRef<HTMLDivElement>(null)
  const over = useRef<SVGSVGElement>(null)
  const { svg, scale } = start.plan
  useEffect(() => {
    const drawn = new DOMParser().parseFromString(svg, 'image/svg+xml').documentElement
    ground.current?.replaceChildren(drawn)
    over.current?.setAttribute('viewBox', drawn.getAttribute('viewBox') ?? '0 0 1 1')
  }, [svg])

  const { points, length_m } = start.path
  const lost = flight?.lost_m ?? null
  const rest_m = lost ? nearest(points, lost[0], lost[1], 0, 0) : length_m / 2
  const at_m = cut_m ?? rest_m
  const here = on_path(points, at_m)
  const [x, y] = place(scale, here.x_m, here.y_m)

  const put = (along_m: number) => {
    const step = control?.step ?? 1
    onCut(Math.min(control?.max ?? length_m, Math.max(control?.min ?? 0, Number((Math.round(along_m / step) * step).toFixed(6)))))
  }
  const drag = (event: TargetedPointerEvent<SVGGElement>) => {
    const matrix = over.current?.querySelector('g')?.getScreenCTM()
    if (!matrix || !event.currentTarget.hasPointerCapture(event.pointerId)) return
    const px = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse())
    const [left, top, right, bottom] = scale.box_px
    const m_per_px = (scale.x[1] - scale.x[0]) / (right - left)
    const north_m = scale.y[1] - ((px.y - top) / (bottom - top)) * (scale.y[1] - scale.y[0])
    put(nearest(points, scale.x[0] + (px.x - left) * m_per_px, north_m, at_m, 8 * m_per_px))
  }
  const press = (event: TargetedKeyboardEvent<SVGGElement>) => {
    const step = Math.max(control?.step ?? 1, length_m / 200)
    const steps: Record<string, number> = { ArrowRight: step, ArrowUp: step, ArrowLeft: -step, ArrowDown: -step,
      PageUp: length_m / 10, PageDown: -length_m / 10, Home: -Infinity, End: Infinity }
    const by = steps[event.key]
    if (by === undefined) return
    event.preventDefault()
    put(Math.min(length_m, Math.max(0, at_m + by)))
  }
  const unset = cut_m !== null ? '' : lost ? 'not set; shown where this flight lost the link: ' : 'not set; shown half-way: '
  const words = `${unset}${number(at_m)} m along the path, ${number(here.height_m)} m up`
  const [left, top, right, bottom] = scale.box_px
  return (
    <div class="plan">
      <div ref={ground} />
      <svg ref={over} class="over">
        <clipPath id="in-plan"><rect x={left} y={top} width={right - left} height={bottom - top} /></clipPath>
        {/* The drawing counts in parts of a px; what lies over it in px. */}
        <g transform={`scale(${start.plan.over})`}>
          <g clip-path="url(#in-plan)">
            {flight && <Tracks flight={flight} strokes={start.policies} scale={scale} of={['x_m', 'y_m']} time_s={time_s} />}
          </g>
          {control && (
            <g class={`handle${cut_m === null ? ' unset' : ''}`} role="slider" tabindex={0} aria-label="Place where the link is cut"
              aria-valuemin={0} aria-valuemax={Math.round(length_m)} aria-valuenow={Math.round(at_m)} aria-valuetext={words}
              transform={`translate(${x.toFixed(1)} ${y.toFixed(1)})`} onKeyDown={press} onPointerMove={drag}
              onPointerDown={event => event.currentTarget.setPointerCapture(event.pointerId)}>
              <circle class="reach" r="20" />
              <circle class="under" r="12" />
              <circle class="ring" r="12" />
              <path class="grip" d="M-15.5 0l-5 -4v8zM15.5 0l5 -4v8z" />
              <circle class="focus" r="23" />
            </g>
          )}
        </g>
      </svg>
    </div>
  )
}
