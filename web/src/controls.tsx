// What can be moved: sliders with their values typed too, and sets of which some are chosen.
import type { TargetedEvent } from 'preact'
import { useState } from 'preact/hooks'
import type { Control } from './api'
import { quantity } from './words'

/** Value of a control: what is set, else what the scenario says. */
interface ControlProps { control: Control; set: string | null; onSet: (value: string | null) => void }

const initial = (control: Control) => (control.initial === null ? null : String(control.initial))

/** What is set in words, for paper too. */
export const in_words = (control: Control, set: string | null) => {
  const value = set ?? initial(control)
  const choice = control.choices.find(choice => choice.value === value)
  if (control.kind === 'set') {
    const chosen = (value ?? '').split(',')
    return control.choices.filter(choice => chosen.includes(choice.value)).map(choice => choice.label).join(', ') || 'none'
  }
  if (choice) return choice.label
  return value === null ? control.note : quantity(Number(value), control.unit, control.step)
}

const Range = ({ control, set, onSet }: ControlProps) => {
  const { key, label, unit, min, max, step, note } = control
  // What is being typed and is no value yet.
  const [typed, type] = useState<string | null>(null)
  // What the scenario draws, and a word in the place of a number, have no one value; the slider rests in the middle.
  const open = Number.isNaN(Number(set ?? control.initial ?? NaN))
  const value = open ? null : set ?? initial(control)
  const rests = control.typical ?? (min + max) / 2
  const give = (text: string) => onSet(Number(text) === control.initial ? null : text)
  const write = (text: string) => {
    const good = text !== '' && Number(text) >= min && Number(text) <= max
    type(good ? null : text)
    if (good) give(text)
  }
  const reset = () => {
    type(null)
    onSet(null)
    document.getElementById(`slider-${key}`)?.focus()
  }
  return (
    <div class={`control${set === null ? '' : ' moved'}`}>
      <div class="values">
        <label for={`slider-${key}`}>{label}</label>
        <input type="number" min={min} max={max} step={step} value={typed ?? value ?? ''}
          placeholder={control.typical === null ? '–' : String(control.typical)} aria-label={`${label}, ${unit}`}
          aria-invalid={typed !== null} aria-describedby={`note-${key}`} onBlur={() => type(null)}
          onInput={event => write(event.currentTarget.value)} />
        <span class="unit" aria-hidden="true">{unit}</span>
      </div>
      <div class="values">
        <input type="range" id={`slider-${key}`} class={value === null ? 'unset' : ''} min={min} max={max} step={step} value={value ?? rests}
          aria-valuetext={in_words(control, set)} onInput={event => { type(null); give(event.currentTarget.value) }} />
        <button type="button" class="reset" disabled={set === null} aria-label={`${label}: as in the scenario`} onClick={reset}>Reset</button>
      </div>
      <p class="note" id={`note-${key}`}>{typed === null ? note : `A number from ${min} to ${max}\u00a0${unit}.`}</p>
    </div>
  )
}

const SetOf = ({ control, set, onSet }: ControlProps) => {
  const chosen = (set ?? initial(control) ?? '').split(',').filter(value => value !== '')
  const toggle = (value: string, on: boolean) => {
    const next = control.choices.map(choice => choice.value).filter(other => (other === value ? on : chosen.includes(other)))
    const text = next.join(',')
    onSet(text === initial(control) ? null : text)
  }
  return (
    <fieldset class={`control${set === null ? '' : ' moved'}`}>
      <legend>{control.label}</legend>
      <div class="choices">
        {control.choices.map(({ value, label }) => {
          const on = chosen.includes(value)
          const flip = (event: TargetedEvent<HTMLInputElement>) => toggle(value, event.currentTarget.checked)
          return <label class="choice"><input type="checkbox" checked={on} disabled={on && chosen.length === 1} onChange={flip} /> {label}</label>
        })}
      </div>
      <p class="note">{control.note}{chosen.length === 1 ? ' At least one stays.' : ''}</p>
    </fieldset>
  )
}

interface ControlsProps {
  controls: Control[]
  value: (key: string) => string | null
  onSet: (key: string, value: string | null) => void
}

export const Controls = ({ controls, value, onSet }: ControlsProps) => (
  <>
    {controls.map(control => {
      const props = { control, set: value(control.key), onSet: (value: string | null) => onSet(control.key, value) }
      return control.kind === 'set' ? <SetOf key={control.key} {...props} /> : <Range key={control.key} {...props} />
    })}
  </>
)
