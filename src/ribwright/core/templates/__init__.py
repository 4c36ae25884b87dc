"""Full-size templates, strips, blocks, gauges and blanks: from shapes to drawings that are cut out."""
