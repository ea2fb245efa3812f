DROP TABLE import_layouts;
