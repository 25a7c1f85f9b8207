// What is set differently from the scenario: one text in the address bar, in bookmarks and in requests.

/** By key of the control; besides them `flight`, the number of the flight that is shown. */
export type State = ReadonlyMap<string, string>

export const read = (hash: string): State => new Map(new URLSearchParams(hash.replace(/^#/, '')))

/** Always in the same order, so that equal states have equal texts. */
export const write = (state: State) =>
  [...state]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, value]) => `${encodeURIComponent(key)}=${encodeURIComponent(value).replaceAll('%2C', ',')}`)
    .join('&')

/** With one key set, or with null as the scenario has it. */
export const changed = (state: State, key: string, value: string | null): State => {
  const next = new Map(state)
  if (value === null) next.delete(key)
  else next.set(key, value)
  return next
}
