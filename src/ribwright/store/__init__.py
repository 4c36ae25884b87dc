"""The only place that knows SQL: engine, schema, migrations, the chain, projections, photos, backup."""
