//! Writes `docs/scenario.md` and `docs/scenario.schema.json` from the reader's key list: `cargo run --example keys` from the
//! project's folder.

fn main() -> std::io::Result<()> {
    std::fs::create_dir_all("docs")?;
    std::fs::write("docs/scenario.md", lostlink::scenario::format_page())?;
    std::fs::write("docs/scenario.schema.json", lostlink::scenario::schema_text())
}
