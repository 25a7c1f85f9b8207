// @ts-check
import js from '@eslint/js'
import { defineConfig } from 'eslint/config'
import tseslint from 'typescript-eslint'

const here = import.meta.dirname
const ours = { 'no-console': 'error', eqeqeq: 'error', 'no-implied-eval': 'error', 'max-lines-per-function': ['error', 100] }

export default defineConfig(
  {
    files: ['web/src/**/*.{ts,tsx}'],
    extends: [js.configs.recommended, tseslint.configs.strictTypeChecked, tseslint.configs.stylisticTypeChecked],
    languageOptions: { parserOptions: { project: './tsconfig.json', tsconfigRootDir: here } },
    rules: {
      ...ours,
      // Numbers in templates are what a drawing is made of.
      '@typescript-eslint/restrict-template-expressions': ['error', { allowNumber: true }],
      '@typescript-eslint/no-confusing-void-expression': ['error', { ignoreArrowShorthand: true }],
    },
  },
  {
    // The scripts that reports embed as they are: plain, typed by comments.
    files: ['assets/player.js', 'assets/lesson.js'],
    extends: [js.configs.recommended, tseslint.configs.recommendedTypeChecked],
    languageOptions: { sourceType: 'script', parserOptions: { project: './tsconfig.assets.json', tsconfigRootDir: here } },
    // What there is in a browser, and what a comment says of a type, tsc knows and the linter does not.
    rules: { eqeqeq: 'error', 'no-console': 'error', 'no-undef': 'off', '@typescript-eslint/no-unsafe-assignment': 'off' },
  },
)
