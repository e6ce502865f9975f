"""What the user writes: records, reader, checks, materials, wire, data tables with sources, examples."""
