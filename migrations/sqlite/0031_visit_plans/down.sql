DROP TABLE text_menus;
DROP TABLE visit_plans;
